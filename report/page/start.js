(function () {
'use strict';
var library = window.echarts;
if (!library) return;
var root = document.documentElement;
root.classList.add('lively');

var LEFT = 52, RIGHT = 8; // px, as the options place their grids
var started = {};         // chart id -> {chart, option, el}
var strips = {};          // ride id -> strip

function data(id) {
  var el = document.getElementById('data-' + id);
  return el ? JSON.parse(el.textContent) : null;
}

// a row's values come as columns of text beside its options: the clock as steps,
// every line as numbers with nothing in gaps
function filled(block) {
  if (!block) return null;
  if (!block.v) return block.option;
  var at = 0, clock = block.t.split(',').map(function (step) { return at += +step; });
  block.option.series.forEach(function (s) {
    if (typeof s.data !== 'number') return;
    var values = block.v[s.data].split(',');
    s.data = clock.map(function (t, k) { return [t, values[k] === '' ? null : +values[k]]; });
  });
  return block.option;
}

// colours are names of the style sheet
function painted(node) {
  if (typeof node === 'string') {
    var name = /^var\((--[a-z0-9-]+)\)$/.exec(node);
    return name ? getComputedStyle(root).getPropertyValue(name[1]).trim() : node;
  }
  if (Array.isArray(node)) return node.map(painted);
  if (node && typeof node === 'object') {
    var copy = {};
    Object.keys(node).forEach(function (k) { copy[k] = k === 'data' ? node[k] : painted(node[k]); });
    return copy;
  }
  return node;
}

function clock(s) {
  s = Math.round(s);
  var h = Math.floor(s / 3600), m = Math.floor(s / 60) % 60, r = s % 60;
  var two = function (n) { return (n < 10 ? '0' : '') + n; };
  return h ? h + ':' + two(m) + ':' + two(r) : m + ':' + two(r);
}

function grouped(v, digits) {
  var s = Math.abs(v).toFixed(digits), parts = s.split('.');
  if (parts[0].length > 4) parts[0] = parts[0].replace(/\B(?=(\d{3})+$)/g, '\u202f');
  return (v < 0 && Number(s) !== 0 ? '\u2212' : '') + parts.join('.');
}

function plain(v) { return grouped(v, Math.abs(v - Math.round(v)) < 1e-9 ? 0 : Math.abs(v * 10 - Math.round(v * 10)) < 1e-9 ? 1 : 2); }

function each(list, f) { Array.prototype.forEach.call(list, f); }

// what JSON cannot hold: the words of the axes and the patterns of the classes
function dressed(option) {
  var o = painted(option);
  each([].concat(o.grid || []), function (g) { g.outerBoundsMode = 'none'; });
  each([].concat(o.yAxis || []), function (a) {
    a.axisTick = { show: false };
    if (a.type === 'value' && a.axisLabel) a.axisLabel.formatter = plain;
    if (a.type === 'category' && a.axisLabel) a.axisLabel.hideOverlap = true;
  });
  each([].concat(o.xAxis || []), function (a) {
    if (a.type === 'value' && a.axisLabel) a.axisLabel.formatter = plain;
    if (a.type === 'value' && a.axisLabel) a.axisLabel.alignMaxLabel = 'right';
  });
  var paper = painted('var(--paper)'), dark = painted('var(--ink)');
  if (o.tooltip && o.tooltip.show) {
    o.tooltip.renderMode = 'richText'; // drawn, so that no text becomes markup
    o.tooltip.backgroundColor = paper;
    o.tooltip.borderColor = painted('var(--line)');
    o.tooltip.textStyle = { color: dark, fontSize: 12 };
    o.tooltip.formatter = function (list) {
      var lines = [];
      each(list, function (p) {
        if (o.series[p.seriesIndex].stack === 'shade' || typeof p.value[1] !== 'number') return;
        lines.push(p.seriesName + ': ' + plain(Math.round(p.value[1] * 10) / 10));
      });
      return list.length ? [plain(Math.round(list[0].value[0] * 10) / 10)].concat(lines).join('\n') : '';
    };
  }
  each(o.series || [], function (s) {
    s.silent = s.type !== 'heatmap';
    s.emphasis = { disabled: true };
    if (s.type === 'bar' && s.label) s.label.formatter = function (p) { return typeof p.value === 'number' ? p.value.toFixed(1) : ''; };
    var decal = {
      'class-lug': { symbol: 'rect', dashArrayX: [1, 0], dashArrayY: [1.2, 3.6], rotation: -Math.PI / 4, color: paper },
      'class-spin': { symbol: 'circle', symbolSize: 0.7, dashArrayX: [[2.5, 2.5]], dashArrayY: [2.5, 2.5], color: dark },
      'class-rest': { symbol: 'rect', dashArrayX: [1, 0], dashArrayY: [0.8, 3.2], color: paper }
    }[s.id];
    if (decal) s.itemStyle.decal = decal;
  });
  return o;
}

function begin(el) {
  var id = el.dataset.chart;
  if (started[id]) return started[id];
  var option = filled(data(id));
  if (!option) return null;
  var chart = library.init(el, null, { renderer: 'canvas' });
  var entry = started[id] = { chart: chart, option: option, el: el };
  chart.setOption(dressed(option));
  var out = el.closest('figure').querySelector('.cell-out');
  if (out) {
    chart.on('mouseover', function (p) { if (p.name) out.textContent = p.name + '.'; });
    chart.on('mouseout', function () { out.textContent = ''; });
  }
  el.dataset.drawn = 'yes';
  return entry;
}

// ---- a strip: rows of one ride under one clock

function Strip(figure) {
  var self = this;
  this.figure = figure;
  this.rows = figure.querySelector('.rows');
  this.whole = [Number(figure.dataset.from), Number(figure.dataset.to)];
  this.from = this.whole[0];
  this.to = this.whole[1];
  this.at = null;
  this.stretch = null;
  this.cursor = this.rows.querySelector('.cursor');
  this.mark = this.rows.querySelector('.mark');
  this.drag = this.rows.querySelector('.drag');
  this.scrub = figure.querySelector('.scrub');
  this.out = figure.querySelector('.clock');
  this.map = null;
  this.lines = [];

  each(figure.querySelectorAll('button[data-zoom]'), function (b) {
    b.addEventListener('click', function () { self.zoomBy(b.dataset.zoom); });
  });
  this.scrub.addEventListener('input', function () { self.show(Number(self.scrub.value), true); });
  this.rows.addEventListener('pointermove', function (e) {
    var t = self.second(e);
    if (t === null) return;
    self.show(t);
    if (self.grip !== undefined && self.grip !== null) self.span(self.drag, Math.min(t, self.grip), Math.max(t, self.grip));
  });
  this.rows.addEventListener('pointerdown', function (e) {
    var t = self.second(e);
    if (t !== null && e.pointerType === 'mouse' && e.button === 0) self.grip = t;
    if (t !== null) self.show(t);
  });
  window.addEventListener('pointerup', function (e) {
    if (self.grip === undefined || self.grip === null) return;
    var t = self.second(e, true), grip = self.grip;
    self.grip = null;
    self.drag.hidden = true;
    if (t !== null && Math.abs(self.x(t) - self.x(grip)) > 8) self.zoom(Math.min(t, grip), Math.max(t, grip));
  });
  this.rows.addEventListener('dblclick', function () { self.zoomBy('all'); });
}

Strip.prototype.begin = function () {
  if (this.begun) return;
  this.begun = true;
  var self = this;
  this.entries = [];
  each(this.rows.querySelectorAll('.canvas'), function (el) {
    var entry = begin(el);
    if (!entry) return;
    entry.readout = el.parentNode.querySelector('.readout');
    entry.lines = readable(entry.option);
    self.entries.push(entry);
  });
  var mapFigure = this.figure.closest('article').querySelector('[data-map]');
  if (mapFigure) {
    this.map = data(mapFigure.dataset.map);
    this.here = mapFigure.querySelector('.course-here');
  }
  this.zoom(this.from, this.to);
  this.read();
};

// readable lists the lines of a row that are read out, with the one below them
// where they are stacked as a band
function readable(option) {
  var lines = [], below = null;
  (option.series || []).forEach(function (s) {
    if (s.type !== 'line') return;
    if (s.stack === 'band' && !s.areaStyle) { below = s; return; }
    var ink = (s.areaStyle || s.lineStyle || {}).color;
    lines.push({
      name: s.stack === 'band' ? 'efficient band' : s.name, data: s.data, ink: ink, below: s.stack === 'band' ? below : null,
      kind: s.areaStyle ? 'fat' : s.lineStyle.type === 'dashed' ? 'dash' : s.lineStyle.width >= 3 ? 'fat' : '',
      silent: s.id && s.id.indexOf('class-') === 0 ? false : s.name === 'lugging' || s.name === 'spinning out',
      isClass: s.id && s.id.indexOf('class-') === 0
    });
  });
  lines.steps = [].concat(option.yAxis)[0].type === 'category' ? [].concat(option.yAxis)[0].data : null;
  return lines;
}

function nearest(points, t) {
  var lo = 0, hi = points.length - 1;
  while (lo < hi) {
    var mid = (lo + hi) >> 1;
    if (points[mid][0] < t) lo = mid + 1; else hi = mid;
  }
  if (lo > 0 && t - points[lo - 1][0] < points[lo][0] - t) lo--;
  return lo;
}

// second is the place in the ride under a pointer, null outside the rows
Strip.prototype.second = function (e, anywhere) {
  var box = this.rows.getBoundingClientRect();
  var x = e.clientX - box.left - LEFT, wide = box.width - LEFT - RIGHT;
  if (!anywhere && (x < -6 || x > wide + 6)) return null;
  return this.from + Math.max(0, Math.min(1, x / wide)) * (this.to - this.from);
};

Strip.prototype.x = function (t) {
  var wide = this.rows.clientWidth - LEFT - RIGHT;
  return LEFT + (t - this.from) / (this.to - this.from) * wide;
};

Strip.prototype.span = function (el, from, to) {
  from = Math.max(from, this.from);
  to = Math.min(to, this.to);
  el.hidden = !(to > from);
  el.style.left = this.x(from) + 'px';
  el.style.width = Math.max(2, this.x(to) - this.x(from)) + 'px';
};

// show puts the cursor at second t of the ride, in every row and on the map
Strip.prototype.show = function (t, follow) {
  this.at = Math.round(t);
  if (follow && (t < this.from || t > this.to)) {
    var half = (this.to - this.from) / 2;
    this.zoom(t - half, t + half);
  }
  var self = this;
  if (this.waiting) return;
  this.waiting = true;
  requestAnimationFrame(function () { self.waiting = false; self.place(); self.read(); });
};

Strip.prototype.place = function () {
  var t = this.at, inside = t !== null && t >= this.from && t <= this.to;
  this.cursor.hidden = !inside;
  if (inside) this.cursor.style.left = this.x(t) + 'px';
  if (this.stretch) this.span(this.mark, this.stretch[0], this.stretch[1]); else this.mark.hidden = true;
  if (t === null) return;
  this.scrub.value = t;
  this.out.textContent = clock(t);
  if (this.map && this.map.t.length) {
    var m = this.map, lo = nearest(m.t.map(function (s) { return [s]; }), t);
    var seen = m.x[lo] !== null;
    this.here.style.visibility = seen ? 'visible' : 'hidden';
    if (seen) { this.here.setAttribute('cx', m.x[lo]); this.here.setAttribute('cy', m.y[lo]); }
  }
};

// read writes the values at the cursor beside the title of every row; without a
// cursor it is the legend
Strip.prototype.read = function () {
  var t = this.at, words = [], self = this;
  each(this.entries || [], function (entry) {
    var out = entry.readout;
    out.textContent = '';
    out.dataset.at = t === null ? '' : t;
    entry.lines.forEach(function (l) {
      if (l.isClass) {
        if (t === null) return;
        for (var k = 0; k + 1 < l.data.length; k += 3) {
          if (t >= l.data[k][0] && t < l.data[k + 1][0]) { word(out, l, l.name); words.push(l.name); }
        }
        return;
      }
      if (t === null || l.silent) { if (entry.lines.length > 1) word(out, l, ''); return; }
      var k = nearest(l.data, t), v = l.data[k][1], text = 'not known';
      if (v !== null && Math.abs(l.data[k][0] - t) <= Math.max(2, (self.whole[1] - self.whole[0]) / 400)) {
        if (entry.lines.steps) text = entry.lines.steps[v];
        else if (l.below) text = grouped(l.below.data[k][1], 0) + ' to ' + grouped(l.below.data[k][1] + v, 0);
        else text = grouped(v, Math.abs(v) < 100 && v !== Math.round(v) ? 1 : 0);
      }
      word(out, l, text, entry.lines.length > 1);
    });
  });
  if (t !== null) this.scrub.setAttribute('aria-valuetext', clock(t) + (words.length ? ', motor ' + words[0] : ''));
};

function word(out, l, text, named) {
  var span = document.createElement('span'), key = document.createElement('i');
  key.className = 'key ' + l.kind;
  key.style.borderTopColor = painted(l.ink);
  span.appendChild(key);
  if (l.isClass) key.className = 'key fat';
  if (named || text === '') span.appendChild(document.createTextNode(l.name + (text ? ' ' : '')));
  if (text) { var b = document.createElement('b'); b.textContent = text; span.appendChild(b); }
  out.appendChild(span);
}

Strip.prototype.zoomBy = function (how) {
  var middle = this.at === null || this.at < this.from || this.at > this.to ? (this.from + this.to) / 2 : this.at;
  var share = (middle - this.from) / (this.to - this.from), wide = this.to - this.from;
  if (how === 'all') { this.stretch = null; this.zoom(this.whole[0], this.whole[1]); return; }
  wide *= how === 'in' ? 0.5 : 2;
  this.zoom(middle - share * wide, middle + (1 - share) * wide);
};

// zoom shows [from, to] in every row
Strip.prototype.zoom = function (from, to) {
  var wide = Math.min(Math.max(20, to - from), this.whole[1] - this.whole[0]);
  from = Math.max(this.whole[0], Math.min(from, this.whole[1] - wide));
  this.from = Math.round(from);
  this.to = Math.round(from + wide);
  var steps = [5, 10, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 18000, 36000];
  var fit = Math.max(2, Math.floor(this.rows.clientWidth / 95)), step = steps[steps.length - 1];
  for (var i = 0; i < steps.length; i++) if ((this.to - this.from) / steps[i] <= fit) { step = steps[i]; break; }
  var self = this, ticks = [];
  for (var t = Math.ceil(this.from / step) * step; t <= this.to; t += step) ticks.push(t);
  each(this.entries || [], function (entry) {
    entry.chart.setOption({ xAxis: { min: self.from, max: self.to, axisTick: { customValues: ticks }, axisLabel: { formatter: clock, customValues: ticks } } });
  });
  this.rows.dataset.from = this.from;
  this.rows.dataset.to = this.to;
  this.place();
};

// ---- start what comes into view, follow links, size and colour scheme

each(document.querySelectorAll('.canvas'), function (el) { el.style.height = el.dataset.height + 'px'; });
each(document.querySelectorAll('figure.strip'), function (f) { strips[f.dataset.ride] = new Strip(f); });

function wake(el) {
  if (el.classList.contains('strip')) strips[el.dataset.ride].begin(); else begin(el);
}
var sleepers = document.querySelectorAll('figure.strip, .canvas.live');
if ('IntersectionObserver' in window) {
  var watch = new IntersectionObserver(function (seen) {
    seen.forEach(function (s) { if (s.isIntersecting) { watch.unobserve(s.target); wake(s.target); } });
  }, { rootMargin: '400px' });
  each(sleepers, function (el) { watch.observe(el); });
} else {
  each(sleepers, wake);
}

document.addEventListener('click', function (e) {
  var link = e.target.closest && e.target.closest('a.to-place');
  if (!link || !strips[link.dataset.ride]) return;
  var strip = strips[link.dataset.ride], from = Number(link.dataset.from), to = Number(link.dataset.to);
  strip.begin();
  strip.stretch = [from, to];
  var pad = Math.max(60, (to - from) * 1.5);
  strip.zoom(from - pad, to + pad);
  strip.show((from + to) / 2);
});

window.addEventListener('resize', function () {
  Object.keys(started).forEach(function (id) { started[id].chart.resize(); });
  Object.keys(strips).forEach(function (id) { if (strips[id].begun) strips[id].zoom(strips[id].from, strips[id].to); });
});

window.matchMedia('(prefers-color-scheme: dark)').addEventListener('change', function () {
  Object.keys(started).forEach(function (id) { started[id].chart.setOption(dressed(started[id].option), true); });
  Object.keys(strips).forEach(function (id) { if (strips[id].begun) { strips[id].zoom(strips[id].from, strips[id].to); strips[id].read(); } });
});
})();
