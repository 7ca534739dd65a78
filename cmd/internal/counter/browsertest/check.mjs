// Drives the counter's page in a real browser and checks what a dealer would
// meet. One line a check on stdout: "ok NAME" or "not ok NAME: reason".
//
// usage: node check.mjs BROWSER ADDRESS DIR
// DIR holds what the Go test made: garmin.fit, demo.fit, broken.fit, and weeks
// before-N.fit, after-N.fit.
import { chromium } from 'playwright-core';
import { mkdtempSync, readFileSync, readdirSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import http from 'node:http';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

const [browserPath, address, dir] = process.argv.slice(2);
const shots = process.env.COGLEDGER_SHOTS; // keep pictures there, to look at them
const axeSource = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const profile = mkdtempSync(join(tmpdir(), 'counter-'));
const flags = ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'];
const browser = await chromium.launchPersistentContext(profile, { executablePath: browserPath, headless: true, args: flags, viewport: { width: 1100, height: 900 } });

browser.setDefaultTimeout(20000);

let failed = 0;
async function check(name, work) {
  try {
    const note = await work();
    console.log(`ok ${name}${note ? ' # ' + note : ''}`);
  } catch (e) {
    failed++;
    console.log(`not ok ${name}: ${String(e.message || e).split('\n').slice(0, 6).join(' | ')}`);
  }
}
function must(condition, text) { if (!condition) throw new Error(text); }

// watch collects everything that should not happen on a page.
function watch(page) {
  const troubles = [];
  page.on('console', m => { if (m.type() === 'error' || m.type() === 'warning') troubles.push(m.text()); });
  page.on('pageerror', e => troubles.push(e.message));
  page.on('request', r => { if (!r.url().startsWith(address) && !r.url().startsWith('data:')) troubles.push('a request to ' + r.url()); });
  return troubles;
}

async function openCounter(page = undefined) {
  page ??= await browser.newPage();
  const troubles = watch(page);
  await page.goto(address);
  await page.waitForSelector('#bike option', { state: 'attached' });
  return { page, troubles };
}

// drop lets go of files over a zone, as from a file manager.
async function drop(page, zone, names) {
  const files = names.map(name => ({ name, data: readFileSync(join(dir, name)).toString('base64') }));
  await page.evaluate(({ zone, files }) => {
    const carried = new DataTransfer();
    for (const f of files) carried.items.add(new File([Uint8Array.from(atob(f.data), c => c.charCodeAt(0))], f.name));
    const target = document.querySelector(`[data-list=${zone}]`);
    for (const kind of ['dragenter', 'dragover', 'drop']) target.dispatchEvent(new DragEvent(kind, { dataTransfer: carried, bubbles: true, cancelable: true }));
  }, { zone, files });
}

async function pickDemo(page) {
  const demo = await page.locator('#bike option', { hasText: 'demo bike' }).first().textContent();
  await page.selectOption('#bike', { label: demo });
}

// review sends the form and waits for the newest job to end.
async function review(page, state = 'done') {
  const before = await page.locator('.job').count();
  await page.click('#go');
  await page.waitForFunction(n => document.querySelectorAll('.job').length > n, before);
  const job = page.locator('.job').first();
  await page.waitForFunction(() => !['waiting', 'working'].includes(document.querySelector('.job').dataset.state), null, { timeout: 60000 });
  must(await job.getAttribute('data-state') === state, `the review is ${await job.getAttribute('data-state')}, not ${state}: ${await job.textContent()}`);
  return job;
}

async function follow(page, link) {
  const [opened] = await Promise.all([browser.waitForEvent('page'), link.click()]);
  await opened.waitForLoadState();
  return opened;
}

function ask(path, { method = 'GET', headers = {} } = {}) {
  return new Promise((resolve, reject) => {
    const r = http.request(address + path, { method, headers }, reply => { reply.resume(); reply.on('end', () => resolve(reply.statusCode)); });
    r.on('error', reject);
    r.end();
  });
}

async function axe(page) {
  // The page's policy admits no foreign script; the test adds its own past it.
  await page.evaluate(axeSource);
  const found = await page.evaluate(() => axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'best-practice'] }));
  must(found.violations.length === 0, found.violations.map(v => `${v.id}: ${v.nodes[0].html}`).join('; '));
}

const main = await openCounter();

await check('the page opens without a complaint, in light and dark and on a phone', async () => {
  const { page } = main;
  for (const colorScheme of ['light', 'dark']) {
    await page.emulateMedia({ colorScheme });
    await axe(page);
    if (shots) await page.screenshot({ path: join(shots, `counter-${colorScheme}.png`), fullPage: true });
  }
  await page.emulateMedia({ colorScheme: 'light' });
  await page.setViewportSize({ width: 360, height: 740 });
  const wide = await page.evaluate(() => [...document.querySelectorAll('*')].filter(e => e.getBoundingClientRect().right > 361).map(e => e.outerHTML.slice(0, 60)));
  must(wide.length === 0, 'wider than a phone: ' + wide.join('; '));
  await page.setViewportSize({ width: 1100, height: 900 });
});

await check('two logs dropped, the demo bike picked, the report opens', async () => {
  const { page } = main;
  await drop(page, 'before', ['garmin.fit', 'demo.fit']);
  must(await page.locator('[data-list=before] .files li').count() === 2, 'the logs are not listed');
  await pickDemo(page);
  const job = await review(page);
  const report = browser.waitForEvent('page');
  await job.locator('a', { hasText: 'Report' }).click();
  const opened = await report;
  const troubles = watch(opened);
  await opened.waitForLoadState();
  await opened.waitForTimeout(500);
  must(/2 rides/.test(await opened.textContent('body')), 'the report is not of two rides');
  must(await opened.locator('svg').count() > 0, 'the report has no picture');
  must(troubles.length === 0, 'in the report: ' + troubles.join('; '));
  if (shots) await opened.screenshot({ path: join(shots, 'counter-report.png') });
  await opened.close();
  if (shots) await page.screenshot({ path: join(shots, 'counter-done.png'), fullPage: true });
  await axe(page);
});

await check('the report cannot reach the server', async () => {
  const { page } = main;
  const opened = await follow(page, page.locator('.job').first().locator('a', { hasText: 'Report' }));
  const got = await opened.evaluate(async () => {
    try { const r = await fetch('/jobs'); return 'status ' + r.status; } catch (e) { return 'refused'; }
  });
  must(got === 'refused', got);
  must(await opened.evaluate(() => self.origin) === 'null', 'it shares the page\u2019s origin');
  await opened.close();
});

await check('a broken log is named and the page still works', async () => {
  const { page } = main;
  await drop(page, 'before', ['broken.fit']);
  await pickDemo(page);
  const bad = await review(page, 'failed');
  must(/broken\.fit/.test(await bad.locator('.problems').textContent()), 'the log is not named');
  await drop(page, 'before', ['broken.fit', 'demo.fit']);
  const half = await review(page);
  must(/broken\.fit/.test(await half.locator('.problems').textContent()), 'the log is not named beside a good one');
  must(await half.locator('a', { hasText: 'Report' }).count() === 1, 'there is no report of the good one');
  if (shots) await page.screenshot({ path: join(shots, 'counter-broken.png'), fullPage: true });
});

// One sheet must hold the page at its shortest and at its longest: a rider who
// has learnt gets no advice, one who has forgotten gets three pieces of it.
for (const [earlier, later, finding] of [['before-', 'after-', 'improved'], ['after-', 'before-', 'worse']])
  await check(`the coach page calls a change ${finding}, on one sheet of either paper`, async () => {
    const { page } = main;
    const logs = readdirSync(dir);
    await drop(page, 'before', logs.filter(n => n.startsWith(earlier)));
    await drop(page, 'after', logs.filter(n => n.startsWith(later)));
    const job = await review(page);
    const sizes = [];
    for (const paper of ['A4', 'Letter']) {
      const sheet = await follow(page, job.locator('a', { hasText: paper }));
      must((await sheet.textContent('td.called')) === finding, paper + ': the planted change is not called');
      await axe(sheet);
      await sheet.emulateMedia({ media: 'print' });
      const box = await sheet.evaluate(() => { const p = document.querySelector('.page'); return [p.scrollHeight, p.clientHeight, document.querySelector('.notes .lines').clientHeight]; });
      must(box[0] <= box[1] + 1, `${paper}: ${box[0]} px of text on ${box[1]} px of paper`);
      must(box[2] >= 38, `${paper}: ${box[2]} px for the dealer's notes`);
      const pdf = (await sheet.pdf({ preferCSSPageSize: true, printBackground: true })).toString('latin1');
      const pages = pdf.match(/\/Type\s*\/Page\b/g).length;
      must(pages === 1, `${paper}: ${pages} pages`);
      const media = pdf.match(/\/MediaBox\s*\[([^\]]*)\]/)[1].trim().split(/\s+/).map(Number);
      const want = paper === 'A4' ? [595, 842] : [612, 792];
      must(Math.abs(media[2] - want[0]) < 1.5 && Math.abs(media[3] - want[1]) < 1.5, `${paper}: ${media}`);
      if (shots) await sheet.screenshot({ path: join(shots, `coach-${finding}-${paper}.png`), fullPage: true });
      sizes.push(`${paper}: ${box[2]} px left for notes`);
      await sheet.close();
    }
    return sizes.join(', ');
  });

await check('no log, or too much, is said before anything is sent', async () => {
  const { page } = main;
  await page.click('#go');
  must(/at least one log/.test(await page.textContent('#trouble')), 'an empty form is sent');
  await page.evaluate(() => {
    const carried = new DataTransfer();
    carried.items.add(new File([new Uint8Array(60e6)], 'huge.fit'));
    document.querySelector('[data-list=before]').dispatchEvent(new DragEvent('drop', { dataTransfer: carried, bubbles: true, cancelable: true }));
  });
  await page.click('#go');
  must(/limit is 50 MB/.test(await page.textContent('#trouble')), 'an upload over the limit is sent: ' + await page.textContent('#trouble'));
  await page.click('[data-list=before] .files button');
});

await check('a review is removed with all it made', async () => {
  const { page } = main;
  const link = await page.locator('.job').first().locator('a').first().getAttribute('href');
  const jobs = await page.locator('.job').count();
  await page.locator('.job').first().locator('button').click();
  await page.waitForFunction(n => document.querySelectorAll('.job').length < n, jobs);
  must(await ask(link.startsWith('/') ? link : '/' + link) === 404, 'its report is still there');
});

await check('a foreign Host or Origin is refused', async () => {
  for (const headers of [{ Host: 'shop.example' }, { Origin: 'https://shop.example' }, { Origin: 'null' }, { 'Sec-Fetch-Site': 'cross-site' }])
    for (const [method, path] of [['GET', '/'], ['GET', '/jobs'], ['POST', '/jobs'], ['DELETE', '/jobs/1']]) {
      const status = await ask(path, { method, headers });
      must(status === 403, `${method} ${path} with ${JSON.stringify(headers)}: ${status}`);
    }
});

await check('another site in the same browser can neither drive nor read it', async () => {
  const foreign = http.createServer((_, reply) => {
    reply.setHeader('Content-Type', 'text/html');
    reply.end('<title>foreign</title><body>foreign');
  });
  await new Promise(done => foreign.listen(0, '127.0.0.1', done));
  try {
    const page = await browser.newPage();
    await page.goto(`http://127.0.0.1:${foreign.address().port}/`);
    const jobs = async () => (await (await main.page.request.get(address + '/jobs')).json()).length;
    const before = await jobs();
    const read = await page.evaluate(async address => {
      const form = new FormData();
      form.append('bike', 'x');
      form.append('before', new File(['x'], 'x.fit'));
      const out = [];
      for (const how of [{ method: 'POST', body: form, mode: 'no-cors' }, { method: 'POST', body: form }, {}, { method: 'DELETE' }])
        try { out.push((await fetch(address + '/jobs', how)).type); } catch { out.push('blocked'); }
      out.push(await new Promise(done => { const s = document.createElement('script'); s.src = address + '/counter.js'; s.onload = () => done('loaded'); s.onerror = () => done('blocked'); document.head.append(s); }));
      return out;
    }, address);
    must(read[0] !== 'basic' && read.slice(1).every(r => r === 'blocked'), 'got through: ' + read);
    must(await jobs() === before, 'it has started a review');
    const frame = await page.evaluate(address => new Promise(done => {
      const f = document.createElement('iframe');
      f.src = address + '/';
      f.onload = () => { try { done(f.contentDocument ? 'readable' : 'closed'); } catch { done('closed'); } };
      document.body.append(f);
      setTimeout(() => done('closed'), 2000);
    }), address);
    must(frame === 'closed', 'it can be framed');
    await page.close();
  } finally { foreign.close(); }
});

await check('nothing was amiss on the page all along', async () => {
  must(main.troubles.length === 0, main.troubles.join('; '));
});

await browser.close();
rmSync(profile, { recursive: true, force: true, maxRetries: 3 });
process.exit(failed ? 1 : 0);
