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

function keyboard(container, view) {
  let at = -1;
  container.tabIndex = 0;
  container.setAttribute('aria-keyshortcuts', 'ArrowRight ArrowLeft');
  container.addEventListener('keydown', (event) => {
    const step = {ArrowRight: 1, ArrowLeft: -1}[event.key];
    if (step === undefined) return;
    const all = points(view);
    if (all.length === 0) return;
    event.preventDefault();
    at = at < 0 && step < 0 ? all.length - 1 : (at + step + all.length) % all.length;
    for (const item of all) item._svg?.classList.toggle('chart-marked', item === all[at]);
    showTip(all[at].tooltip, all[at]._svg.getBoundingClientRect());
    announce(container, all[at].datum.address ?? null);
  });
  container.addEventListener('blur', () => {
    at = -1;
    hideTip();
    highlight(view, null);
    announce(container, null);
  });
}

/**
 * Draw a compiled specification into a container in place of what stands there (the static picture).
 * The container is touched only when the drawing has succeeded. Pointing at a mark, by pointer or arrow key,
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
  keyboard(container.closest('[role="img"]') ?? container, view);
  return view;
}

window.benchgalleyCharts = Object.freeze({parse, View, expressionInterpreter, tooltip, draw, highlight});
