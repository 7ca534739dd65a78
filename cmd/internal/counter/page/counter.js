'use strict';
(() => {
const $ = id => document.getElementById(id);
const lists = {before: [], after: [], second: []};
let offer = {bikes: [], keep: '', maxUpload: Infinity, maxUploadText: '', maxFiles: Infinity};
const ownProfile = '\u0000own';

// make builds an element; text is data and never read as markup.
function make(tag, attrs = {}, ...inner) {
  const e = document.createElement(tag);
  for (const [k, v] of Object.entries(attrs)) k in e ? e[k] = v : e.setAttribute(k, v);
  e.append(...inner);
  return e;
}

function bytes(n) {
  return n >= 1e6 ? (n / 1e6).toPrecision(3) + ' MB' : Math.max(1, Math.round(n / 1e3)) + ' kB';
}

function trouble(text) {
  $('trouble').textContent = text;
  $('trouble').hidden = !text;
}

// Choosing files

function add(name, files) {
  for (const f of files)
    if (!lists[name].some(g => g.name === f.name && g.size === f.size && g.lastModified === f.lastModified)) lists[name].push(f);
  trouble('');
  showFiles(name);
}

function showFiles(name) {
  const ul = document.querySelector(`[data-list=${name}] .files`);
  ul.replaceChildren(...lists[name].map((f, k) => make('li', {},
    make('span', {}, f.name, ' ', make('span', {className: 'fine', textContent: bytes(f.size)})),
    make('button', {type: 'button', textContent: 'Remove', ariaLabel: 'Remove ' + f.name, onclick: () => { lists[name].splice(k, 1); showFiles(name); }}))));
}

for (const zone of document.querySelectorAll('.drop')) {
  const name = zone.dataset.list, input = $(name);
  input.addEventListener('change', () => { add(name, input.files); input.value = ''; });
  let depth = 0;
  zone.addEventListener('dragenter', e => { e.preventDefault(); depth++; zone.classList.add('over'); });
  zone.addEventListener('dragleave', () => { if (--depth === 0) zone.classList.remove('over'); });
  zone.addEventListener('drop', e => { depth = 0; zone.classList.remove('over'); add(name, e.dataTransfer.files); });
}
// A file dropped beside the zones would replace the page.
for (const kind of ['dragover', 'drop']) document.addEventListener(kind, e => e.preventDefault());

// The bike

function bikeChanged() { $('own').hidden = $('bike').value !== ownProfile; }
$('bike').addEventListener('change', bikeChanged);
$('learn').addEventListener('change', () => { $('tyre-row').hidden = !$('learn').checked; });

// Sending

$('order').addEventListener('submit', e => {
  e.preventDefault();
  const all = Object.values(lists).flat();
  const own = $('bike').value === ownProfile;
  const total = all.reduce((sum, f) => sum + f.size, 0);
  if (!lists.before.length) return trouble('Drop or choose at least one log under “Rides”.');
  if (own && !$('profile').files.length) return trouble('Choose the profile of the bike, or pick a bike from the list.');
  if (total > offer.maxUpload) return trouble(`These files are ${bytes(total)} together, and the limit is ${offer.maxUploadText}. Drop fewer at a time.`);
  if (all.length > offer.maxFiles) return trouble(`These are ${all.length} files, and the limit is ${offer.maxFiles}. Drop fewer at a time.`);
  trouble('');
  const form = new FormData();
  if (own) form.append('profile', $('profile').files[0]);
  else form.append('bike', $('bike').value);
  if ($('learn').checked) { form.append('learn', 'yes'); form.append('tyre', $('tyre').value); }
  if ($('keep').checked) form.append('keep', 'yes');
  for (const name in lists) for (const f of lists[name]) form.append(name, f, f.name);
  send(form);
});

function send(form) {
  const go = $('go'), say = $('sending'), call = new XMLHttpRequest();
  const stop = make('button', {type: 'button', textContent: 'Stop', onclick: () => call.abort()});
  go.disabled = true;
  go.after(' ', stop);
  const over = () => { go.disabled = false; stop.remove(); say.textContent = ''; };
  call.upload.addEventListener('progress', e => {
    if (e.lengthComputable) say.textContent = e.loaded < e.total ? `Copying, ${Math.floor(100 * e.loaded / e.total)} %` : 'Copied';
  });
  call.addEventListener('load', () => {
    over();
    if (call.status !== 202) return trouble(reason(call.responseText) || `The server answered ${call.status}.`);
    for (const name in lists) { lists[name] = []; showFiles(name); }
    poll();
  });
  call.addEventListener('error', () => { over(); trouble('The upload broke off. A chosen file may have changed meanwhile, or cogledger has ended.'); });
  call.addEventListener('abort', over);
  call.open('POST', 'jobs');
  call.send(form);
}

function reason(text) {
  try { return JSON.parse(text).trouble; } catch { return ''; }
}

// Jobs

const cards = new Map();
let timer = 0;

async function poll() {
  clearTimeout(timer);
  let jobs;
  try {
    const reply = await fetch('jobs');
    if (!reply.ok) throw new Error(reply.status);
    jobs = await reply.json();
  } catch {
    trouble('cogledger does not answer. Start it again with `cogledger serve`.');
    timer = setTimeout(poll, 3000);
    return;
  }
  const ids = new Set(jobs.map(j => j.id));
  for (const [id, card] of cards) if (!ids.has(id)) { card.element.remove(); cards.delete(id); }
  for (const j of jobs) show(j);
  const busy = jobs.some(j => j.state === 'waiting' || j.state === 'working');
  timer = setTimeout(poll, busy ? 400 : 5000);
}

function show(j) {
  const key = JSON.stringify(j);
  let card = cards.get(j.id);
  if (!card) {
    card = {element: make('li', {className: 'job', id: 'job-' + j.id}), key: ''};
    cards.set(j.id, card);
    $('jobs').prepend(card.element);
  }
  if (card.key === key) return;
  // Keep the keyboard where it was when the card is drawn anew.
  const focused = card.element.contains(document.activeElement) ? document.activeElement.textContent : '';
  card.key = key;
  card.element.replaceChildren(...cardParts(j));
  card.element.dataset.state = j.state;
  if (focused) [...card.element.querySelectorAll('a,button')].find(e => e.textContent === focused)?.focus();
}

function cardParts(j) {
  const over = !['waiting', 'working'].includes(j.state);
  const names = j.files.slice(0, 3).join(', ') + (j.files.length > 3 ? ` and ${j.files.length - 3} more` : '');
  const parts = [make('div', {className: 'row'},
    make('h3', {textContent: names}),
    make('button', {type: 'button', textContent: over ? 'Remove' : 'Cancel', ariaLabel: (over ? 'Remove' : 'Cancel') + ' review ' + j.id, onclick: () => drop(j.id)}))];
  const line = {
    waiting: 'Waiting for another review to end.',
    working: j.doing ? j.doing[0].toUpperCase() + j.doing.slice(1) + (j.total ? `, ${j.done} of ${j.total}` : '') : 'Working.',
    done: 'On the bike “' + j.bike + '”.',
    failed: 'This could not be reviewed.',
    cancelled: 'Cancelled.',
  }[j.state];
  parts.push(make('p', {className: 'fine', role: 'status', textContent: line}));
  if (j.state === 'working') {
    const bar = make('progress', {max: j.total || 1, ariaLabel: 'Progress of review ' + j.id});
    if (j.total) bar.value = j.done;
    parts.push(bar);
  }
  if (j.trouble) parts.push(make('p', {className: 'trouble', textContent: j.trouble}));
  if (j.problems) parts.push(make('ul', {className: 'problems'}, ...j.problems.map(p =>
    make('li', {}, make('b', {textContent: p.file || 'All rides'}), ': ' + p.text))));
  for (const s of j.summary || []) parts.push(make('p', {textContent: s}));
  if (j.documents) parts.push(make('ul', {className: 'papers'}, ...j.documents.map(d =>
    make('li', {}, make('a', {href: `jobs/${j.id}/${encodeURIComponent(d.name)}`, target: '_blank', rel: 'noopener', textContent: d.title})))));
  if (j.kept) parts.push(make('p', {className: 'fine', textContent: 'Kept in ' + j.kept}));
  return parts;
}

async function drop(id) {
  await fetch('jobs/' + id, {method: 'DELETE'}).catch(() => {});
  poll();
}

// Start

(async () => {
  try {
    offer = await (await fetch('offer')).json();
  } catch {
    return trouble('cogledger does not answer. Start it again with `cogledger serve`.');
  }
  $('bike').replaceChildren(...offer.bikes.map(b => make('option', {value: b, textContent: b})), make('option', {value: ownProfile, textContent: 'Another bike, from its profile'}));
  bikeChanged();
  if (offer.keep) {
    $('keep-row').hidden = false;
    $('keep-dir').textContent = offer.keep;
    $('keeping').textContent = ', and the logs are gone when the review is done unless you keep them';
  }
  poll();
})();
})();
