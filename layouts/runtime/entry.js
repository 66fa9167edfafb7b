// What the browser needs to bring a drawn chart to life: the parts of Vega our specifications use, its expression
// interpreter (no code is made from text, so a strict content security policy holds), and a tip of our own.
import {extend} from 'vega-util';
import {transforms} from 'vega-dataflow';
import * as dataTransforms from 'vega-transforms';
import * as viewTransforms from 'vega-view-transforms';
import * as encode from 'vega-encode';
import {View} from 'vega-view';
import {parse} from 'vega-parser';
import {expressionInterpreter} from 'vega-interpreter';

extend(transforms, dataTransforms, viewTransforms, encode);

const ADDRESS_EVENT = 'benchgalley:point';
let tip = null;

function tipElement() {
  if (tip === null) {
    tip = document.createElement('div');
    tip.className = 'chart-tip';
    tip.id = 'chart-tip';
    tip.setAttribute('role', 'status');
    tip.hidden = true;
    document.body.append(tip);
    document.addEventListener('keydown', (event) => {
      if (event.key === 'Escape') hideTip();
    });
    window.addEventListener('scroll', hideTip, {passive: true, capture: true});
  }
  return tip;
}

function hideTip() {
  if (tip !== null) tip.hidden = true;
}

/** Show text beside a rectangle of the window, inside the window's edges. Text only: nothing is parsed. */
function showTip(text, box) {
  const element = tipElement();
  element.textContent = String(text);
  element.hidden = false;
  const gap = 12;
  const {width, height} = element.getBoundingClientRect();
  const left = Math.max(gap, Math.min(box.right + gap, document.documentElement.clientWidth - width - gap));
  const above = box.top - height - gap;
  element.style.setProperty('left', `${left}px`);
  element.style.setProperty('top', `${above > gap ? above : box.bottom + gap}px`);
}

/** Tooltip handler in the form View takes: (handler, event, item, value). */
function tooltip(_handler, event, item, value) {
  if (value === null || value === undefined || value === '') {
    if (event.vegaType !== undefined || !tipElement().matches(':hover')) hideTip();
    return;
  }
  const at = {left: event.clientX, right: event.clientX, top: event.clientY, bottom: event.clientY};
  showTip(value, Number.isFinite(event.clientX) ? at : item._svg.getBoundingClientRect());
}

function points(view) {
  const found = [];
  const walk = (mark) => {
    for (const item of mark.items ?? []) {
      if (item.items) item.items.forEach(walk);
      else if (mark.marktype === 'symbol' && item.tooltip && item.datum) found.push(item);
    }
  };
  walk(view.scenegraph().root);
  // means before single runs: the few marks that carry an address come first
  return found.sort((a, b) => Number(Boolean(b.datum.address)) - Number(Boolean(a.datum.address)));
}

/** Mark every drawn point of an address; null marks none. */
function highlight(view, address) {
  for (const item of points(view)) {
    item._svg?.classList.toggle('chart-marked', address !== null && item.datum.address === address);
  }
}

function announce(container, address) {
  container.dispatchEvent(new CustomEvent(ADDRESS_EVENT, {bubbles: true, detail: {address}}));
}

const REACH = 24; // CSS pixels: as far as a finger may miss a point

/** The drawn point nearest to a place in the window, within reach; undefined when there is none. */
function nearest(view, x, y) {
  let found, least = REACH;
  for (const item of points(view)) {
    const box = item._svg?.getBoundingClientRect();
    if (!box) continue;
    const away = Math.hypot((box.left + box.right) / 2 - x, (box.top + box.bottom) / 2 - y);
    if (away < least) [found, least] = [item, away];
  }
  return found;
}

/** Arrow keys step through the points; a tap or click takes the nearest one. Pointing is left to Vega. */
function picking(container, view) {
  let at = -1;
  const pick = (all, index) => {
    at = index;
    for (const item of all) item._svg?.classList.toggle('chart-marked', item === all[at]);
    if (at >= 0) showTip(all[at].tooltip, all[at]._svg.getBoundingClientRect());
    else hideTip();
    announce(container, all[at]?.datum.address ?? null);
  };
  container.tabIndex = 0;
  container.setAttribute('aria-keyshortcuts', 'ArrowRight ArrowLeft');
  container.addEventListener('keydown', (event) => {
    const step = {ArrowRight: 1, ArrowLeft: -1}[event.key];
    const all = points(view);
    if (step === undefined || all.length === 0) return;
    event.preventDefault();
    pick(all, at < 0 && step < 0 ? all.length - 1 : (at + step + all.length) % all.length);
  });
  document.addEventListener('click', (event) => {
    if (container.contains(event.target)) {
      const all = points(view);
      pick(all, all.indexOf(nearest(view, event.clientX, event.clientY)));
    } else if (at >= 0) pick(points(view), -1);
  });
  container.addEventListener('blur', () => pick(points(view), -1));
}

/**
 * Draw a compiled specification into a container in place of what stands there (the static picture).
 * The container is touched only when the drawing has succeeded. Pointing at a mark, by pointer, tap or arrow key,
 * shows its tip and sends the event `benchgalley:point` with `detail.address` (a string or null).
 * Returns a promise of the view.
 */
async function draw(container, spec) {
  const host = document.createElement('div');
  const view = new View(parse(spec, null, {ast: true}), {
    expr: expressionInterpreter,
    renderer: 'svg',
    hover: false,
    tooltip,
  });
  await view.initialize(host).runAsync();
  // the container already has role and name; the host is only a box
  for (const name of ['role', 'aria-label', 'aria-roledescription', 'class']) host.removeAttribute(name);
  const still = (container.closest('figure') ?? container).querySelector('svg.chart');
  host.querySelector('svg').setAttribute('class', still === null ? 'chart' : still.getAttribute('class'));
  container.replaceChildren(host);
  view.addEventListener('mouseover', (_event, item) => announce(container, item?.datum?.address ?? null));
  view.addEventListener('mouseout', () => announce(container, null));
  // what is inside an element of role img is invisible to assistive technology, so that element takes the focus
  picking(container.closest('[role="img"]') ?? container, view);
  return view;
}

window.benchgalleyCharts = Object.freeze({parse, View, expressionInterpreter, tooltip, draw, highlight});
