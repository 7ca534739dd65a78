// Opens reports in a real browser, without a network, and checks what a reader
// would meet. One line a check on stdout: "ok NAME" or "not ok NAME: reason".
//
// usage: node check.mjs BROWSER DIR     DIR holds the pages that the Go test made
import { chromium } from 'playwright-core';
import { readFileSync, mkdtempSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

const [browserPath, dir] = process.argv.slice(2);
const axeSource = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const profile = mkdtempSync(join(tmpdir(), 'browsertest-'));
const flags = ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'];
const browser = await chromium.launchPersistentContext(profile, { executablePath: browserPath, headless: true, offline: true, args: flags, viewport: { width: 1280, height: 900 } });

let failed = 0;
async function check(name, work) {
  const started = Date.now();
  try {
    const note = await work();
    console.log(`ok ${name} # ${note ? note + ', ' : ''}${Date.now() - started} ms`);
  } catch (e) {
    failed++;
    console.log(`not ok ${name}: ${String(e.message || e).split('\n').slice(0, 6).join(' | ')}`);
  }
}
function must(condition, text) { if (!condition) throw new Error(text); }

// open loads a page and collects everything that should not happen
async function open(file, { width = 1280, dark = false } = {}) {
  const page = await browser.newPage();
  const troubles = [];
  page.on('console', m => { if (m.type() === 'error' || m.type() === 'warning') troubles.push(m.text()); });
  page.on('pageerror', e => troubles.push(e.message));
  page.on('dialog', d => { troubles.push('a dialog: ' + d.message()); d.dismiss(); });
  page.on('request', r => { if (!r.url().startsWith('file:') && !r.url().startsWith('data:')) troubles.push('a request to ' + r.url()); });
  await page.setViewportSize({ width, height: 900 });
  await page.emulateMedia({ colorScheme: dark ? 'dark' : 'light' });
  await page.goto('file://' + join(dir, file));
  await page.waitForTimeout(150);
  return { page, troubles };
}

async function scrollThrough(page) {
  const height = await page.evaluate(() => document.documentElement.scrollHeight);
  for (let y = 0; y < height; y += 600) {
    await page.evaluate(y => window.scrollTo({ top: y, behavior: 'instant' }), y);
    await page.waitForTimeout(40);
  }
  await page.waitForTimeout(200);
}

// drawn counts the chart canvases and those with more than one colour
const drawn = page => page.evaluate(() => {
  let all = 0, inked = 0;
  for (const el of document.querySelectorAll('[data-chart]')) {
    all++;
    const canvas = el.querySelector('canvas');
    if (!canvas) continue;
    const data = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height).data;
    const colours = new Set();
    for (let i = 0; i < data.length; i += 4 * 7) if (data[i + 3] > 200) colours.add((data[i] << 16) | (data[i + 1] << 8) | data[i + 2]);
    if (colours.size > 2) inked++;
  }
  return { all, inked };
});

const windows = (page, ride) => page.evaluate(ride => [...document.querySelectorAll(`figure.strip[data-ride="${ride}"] [data-chart]`)].map(el => {
  const x = window.echarts.getInstanceByDom(el).getOption().xAxis[0];
  return [x.min, x.max];
}), ride);

async function axe(page) {
  await page.evaluate(axeSource);
  const result = await page.evaluate(() => window.axe.run(document, { resultTypes: ['violations'] }));
  const bad = result.violations.filter(v => v.impact === 'serious' || v.impact === 'critical');
  must(bad.length === 0, bad.map(v => `${v.id} (${v.nodes.length}): ${v.nodes[0].html.slice(0, 120)} ${v.nodes[0].failureSummary || ''}`).join('; '));
  return `${result.passes.length} rules passed, ${result.violations.length} minor remarks`;
}

const accessible = (file, options = {}) => async () => {
  const { page } = await open(file, options);
  await scrollThrough(page);
  for (const d of await page.$$('details')) await d.evaluate(el => { el.open = true; });
  const note = await axe(page);
  await page.close();
  return note;
};

for (const file of ['ride.html', 'week.html', 'bare.html', 'hostile.html', 'still.html', 'curves.html']) {
  await check(`${file}: opens without an error or a request, all charts drawn`, async () => {
    const { page, troubles } = await open(file);
    await scrollThrough(page);
    const { all, inked } = await drawn(page);
    must(troubles.length === 0, troubles.join('; '));
    must(file === 'still.html' || all > 0 && all === inked, `${inked} of ${all} charts are drawn`);
    await page.close();
    return `${inked} charts`;
  });
  await check(`${file}: 390 px wide without sideways scrolling`, async () => {
    const { page, troubles } = await open(file, { width: 390, dark: true });
    await scrollThrough(page);
    for (const d of await page.$$('details')) await d.evaluate(el => { el.open = true; });
    const wide = await page.evaluate(() => document.documentElement.scrollWidth);
    must(wide <= 390, `the page is ${wide} px wide`);
    must(troubles.length === 0, troubles.join('; '));
    await page.close();
  });
}

// axe takes its time on large pages: each look once
await check('no serious fault of accessibility, light', accessible('ride.html'));
await check('no serious fault of accessibility, dark', accessible('ride.html', { dark: true }));
await check('no serious fault of accessibility, phone', accessible('hostile.html', { width: 390 }));
await check('no serious fault of accessibility, little known', accessible('bare.html'));
await check('no serious fault of accessibility, curves', accessible('curves.html'));
await check('no serious fault of accessibility, several rides, drawn charts', accessible('still.html', { dark: true }));

await check('charts start only when they come near', async () => {
  const { page } = await open('week.html');
  const [all, begun] = await page.evaluate(() => [document.querySelectorAll('[data-chart]').length, document.querySelectorAll('[data-drawn]').length]);
  must(begun < all / 2, `${begun} of ${all} charts are drawn before scrolling`);
  await page.close();
  return `${begun} of ${all}`;
});

await check('hovering moves the shared cursor in all rows', async () => {
  const { page } = await open('ride.html');
  const rows = page.locator('figure.strip .rows').first();
  await rows.scrollIntoViewIfNeeded();
  await page.waitForTimeout(300);
  const at = async share => {
    const row = page.locator('figure.strip .row .canvas').nth(3);
    await row.scrollIntoViewIfNeeded();
    const box = await row.boundingBox();
    await page.mouse.move(box.x + 52 + (box.width - 60) * share, box.y + box.height / 2);
    await page.waitForTimeout(120);
    return page.evaluate(() => ({
      read: [...document.querySelectorAll('figure.strip .row')].filter(r => r.querySelector('canvas')).map(r => r.querySelector('.readout').dataset.at),
      words: [...document.querySelectorAll('figure.strip .row')].map(r => r.querySelector('.readout').textContent),
      x: document.querySelector('.cursor').getBoundingClientRect().x, tall: document.querySelector('.cursor').getBoundingClientRect().height,
      rows: document.querySelector('.rows').getBoundingClientRect().height, hidden: document.querySelector('.cursor').hidden,
      here: document.querySelector('.course-here').style.visibility,
    }));
  };
  const a = await at(0.25), b = await at(0.6);
  must(new Set(a.read).size === 1 && a.read[0] !== '', `rows read at ${a.read}`);
  must(new Set(b.read).size === 1 && Number(b.read[0]) > Number(a.read[0]), `rows read at ${b.read} after ${a.read}`);
  must(!b.hidden && Math.abs(b.tall - b.rows) < 2, `the line is ${b.tall} px of ${b.rows}`);
  must(b.x > a.x + 100, 'the line did not move');
  must(b.words.filter(w => /\d/.test(w)).length >= 8, `values are missing: ${b.words.join(' / ')}`);
  must(b.here === 'visible', 'the map does not follow');
  await page.close();
});

await check('dragging zooms all rows, double-click shows the whole ride', async () => {
  const { page } = await open('ride.html');
  const row = page.locator('figure.strip .row .canvas').nth(4);
  await row.scrollIntoViewIfNeeded();
  await page.waitForTimeout(300);
  const whole = (await windows(page, 'r1'))[0];
  const box = await row.boundingBox();
  const x = share => box.x + 52 + (box.width - 60) * share;
  await page.mouse.move(x(0.4), box.y + 20);
  await page.mouse.down();
  await page.mouse.move(x(0.5), box.y + 20, { steps: 5 });
  await page.mouse.up();
  await page.waitForTimeout(250);
  const zoomed = await windows(page, 'r1');
  must(zoomed.length >= 8, `${zoomed.length} rows`);
  const want = [0.4, 0.5].map(s => whole[0] + s * (whole[1] - whole[0]));
  for (const w of zoomed) must(Math.abs(w[0] - want[0]) < 12 && Math.abs(w[1] - want[1]) < 12, `a row shows ${w}, want ${want}`);
  await row.dblclick({ position: { x: 300, y: 20 } });
  await page.waitForTimeout(250);
  for (const w of await windows(page, 'r1')) must(w[0] === whole[0] && w[1] === whole[1], `a row shows ${w} after double-click`);
  await page.close();
});

await check('keys move the cursor and zoom', async () => {
  const { page } = await open('ride.html');
  const range = page.locator('.scrub').first();
  await range.scrollIntoViewIfNeeded();
  await page.waitForTimeout(300);
  await range.focus();
  await page.keyboard.press('ArrowRight');
  await page.keyboard.press('PageUp');
  await page.waitForTimeout(150);
  const said = await range.getAttribute('aria-valuetext');
  must(/^\d+:\d\d/.test(said || ''), `the place is spoken as ${said}`);
  const before = (await windows(page, 'r1'))[0];
  await page.locator('button[data-zoom="in"]').first().focus();
  await page.keyboard.press('Enter');
  await page.waitForTimeout(200);
  const after = (await windows(page, 'r1'))[0];
  must(after[1] - after[0] < (before[1] - before[0]) * 0.6, `${before} became ${after}`);
  await page.close();
});

await check('a click on a piece of advice leads to its place', async () => {
  const { page } = await open('ride.html');
  const link = page.locator('#answer a.to-place').first();
  const [from, to] = [Number(await link.getAttribute('data-from')), Number(await link.getAttribute('data-to'))];
  await link.click();
  await page.waitForTimeout(1200);
  const top = await page.evaluate(() => document.querySelector('#r1-strip').getBoundingClientRect().top);
  must(top > -50 && top < 500, `the strip is ${top} px from the window's top`);
  const shown = (await windows(page, 'r1'))[0];
  must(shown[0] <= from && shown[1] >= to && shown[1] - shown[0] < 1400, `the rows show ${shown}, the place is ${from} to ${to}`);
  must(await page.evaluate(() => !document.querySelector('.mark').hidden), 'the stretch is not marked');
  await page.close();
});

await check('a change to dark repaints page and charts', async () => {
  const { page } = await open('ride.html');
  await scrollThrough(page);
  const look = () => page.evaluate(() => {
    const c = document.querySelector('[data-chart="r1-speed"] canvas');
    const d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data;
    let sum = 0, n = 0;
    for (let i = 0; i < d.length; i += 4) if (d[i + 3] > 200) { sum += d[i]; n++; }
    return { ink: sum / n, paper: getComputedStyle(document.body).backgroundColor };
  });
  const light = await look();
  await page.emulateMedia({ colorScheme: 'dark' });
  await page.waitForTimeout(300);
  const dark = await look();
  must(light.paper !== dark.paper, 'the paper stays the same');
  must(Math.abs(dark.ink - light.ink) > 15, `the charts stay the same: ${light.ink} and ${dark.ink}`);
  await page.close();
});

for (const file of ['ride.html']) {
  await check(`${file}: prints with drawn charts`, async () => {
    const { page } = await open(file);
    await scrollThrough(page);
    await page.emulateMedia({ media: 'print', colorScheme: 'light' });
    const seen = await page.evaluate(() => ({
      live: [...document.querySelectorAll('.live')].filter(e => e.getBoundingClientRect().height > 0).length,
      still: [...document.querySelectorAll('.still svg')].filter(e => e.getBoundingClientRect().height > 40).length,
    }));
    must(seen.live === 0 && seen.still >= 2, `${seen.live} live and ${seen.still} drawn charts on paper`);
    const pdf = await page.pdf({ preferCSSPageSize: true, printBackground: true });
    const pages = (pdf.toString('latin1').match(/\/Type\s*\/Page[^s]/g) || []).length;
    must(pages >= 3 && pages < 80, `${pages} pages`);
    await page.close();
    return `${pages} pages`;
  });
}

await check('without the chart library all is there, drawn', async () => {
  const { page } = await open('still.html');
  const seen = await page.evaluate(() => ({
    live: [...document.querySelectorAll('.live')].filter(e => e.getBoundingClientRect().height > 0).length,
    still: [...document.querySelectorAll('.still svg')].filter(e => e.getBoundingClientRect().height > 40).length,
    words: document.body.textContent.includes('make script'),
  }));
  must(seen.live === 0 && seen.still >= 2 && seen.words, JSON.stringify(seen));
  await page.close();
});

await check('hostile texts do nothing', async () => {
  const { page, troubles } = await open('hostile.html');
  await scrollThrough(page);
  must(await page.evaluate(() => document.querySelector('h1').textContent) === '<script>alert(1)</script>', 'the name is not shown as it is');
  must(troubles.length === 0, troubles.join('; '));
  await page.close();
});

await check('a ride of ten hours opens', async () => {
  const started = Date.now();
  const { page, troubles } = await open('long.html');
  await page.locator('#r1-strip').scrollIntoViewIfNeeded();
  await page.waitForFunction(() => document.querySelector('[data-chart="r1-speed"][data-drawn]'));
  const took = Date.now() - started;
  must(troubles.length === 0, troubles.join('; '));
  await page.close();
  return `${took} ms until its strip was drawn`;
});

await browser.close();
rmSync(profile, { recursive: true, force: true });
process.exit(failed ? 1 : 0);
