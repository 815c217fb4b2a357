// The review: what is shown now, and what is sent when something is said.
import {actionFor, fillHelp} from './keys.js';
import * as net from './net.js';
import {showProgress, showViews} from './frame.js';
import {fillSame} from './same.js';
import {fillSitePlan} from './site.js';
import {Stage} from './stage.js';
import {Verdict} from './verdict.js';
import {fillFilter, orderOf, ranks, showList} from './walk.js';
import {actionWords, el, isConfirmed, isFalse, isSettled, kindWords, percent, shapeWords, titled} from './words.js';

const $ = (id) => document.getElementById(id);
let state, byId, order = [], current = null, verdict, stage, stopStaying;
let sending = Promise.resolve(), waiting = 0;

function say(words) {
  $('live').textContent = '';
  setTimeout(() => { $('live').textContent = words; }, 30);  // the same words twice are read twice
}
function notice(words, stays = false) {
  const place = $('notice');
  place.textContent = words;
  place.hidden = !words;
  clearTimeout(notice.timer);
  if (words && !stays) notice.timer = setTimeout(() => { place.hidden = true; }, 9000);
}

// ---- what the server says

function take(fresh) {
  state = fresh;
  byId = new Map(state.markings.map((m) => [m.id, m]));
}
function merge(answer) {
  Object.assign(state, {revision: answer.revision, undo: answer.undo, redo: answer.redo});
  for (const marking of answer.markings) {
    if (byId.has(marking.id)) Object.assign(byId.get(marking.id), marking);
    else {
      state.markings.push(marking);
      byId.set(marking.id, marking);
      order.splice(order.indexOf(current) + 1, 0, marking.id);
    }
  }
  for (const id of answer.gone) {
    byId.delete(id);
    state.markings = state.markings.filter((m) => m.id !== id);
    const at = order.indexOf(id);
    if (at >= 0) order.splice(at, 1);
    if (current === id) current = order[Math.min(Math.max(at, 0), order.length - 1)] ?? null;
  }
}

async function again(words) {
  take(await net.state());
  if (words) notice(words);
  rank(true);
  show({look: false});
}

/// Changes go one after the other, each on the revision that the one before it made.
function send(wish) {
  ++waiting;
  const made = sending.then(async () => {
    try {
      const answer = await net.change({...wish, revision: state.revision});
      merge(answer);
      return answer;
    } catch (error) {
      if (error instanceof net.Stale) await again(`${titled(error.message)}. Your last change was not made; what you see is the present state.`);
      else if (error instanceof net.Ended) ended(error.message);
      else notice(`Not done: ${error.message}`);
      say(`Not done: ${error.message}`);
      return null;
    } finally {
      --waiting;
      document.body.classList.toggle('busy', waiting > 0);
    }
  });
  sending = made;
  document.body.classList.add('busy');
  return made;
}

async function tell(fields, words) {
  const id = current;
  const answer = await send({is: 'say', id, fields});
  if (answer) {
    const marking = byId.get(id);
    say(words ?? `${answer.what}. ${marking ? actionWords[marking.decision.action] : ''}`);
  }
  show({look: false});
  return answer;
}

// ---- what is shown

function rank(keep) {
  order = orderOf([...state.markings], $('filter').value, $('rank').value, state.sure_from);
  if (!keep || !byId.has(current)) current = order[0] ?? null;
}

async function showPhoto(marking, look) {
  const index = marking.photo, photo = state.photos[index];
  const trouble = $('photo-trouble');
  if (!photo) return;
  const here = state.markings.filter((m) => m.photo === index);
  const names = here.map((m) => `${m.id} ${kindWords[m.kind]}${m.id === marking.id ? ' (this one)' : ''}`).join(', ');
  $('photo-name').textContent = photo.file + (photo.taken ? `, ${photo.taken.slice(0, 16).replace('T', ' ')}` : '');
  $('photo-words').textContent = `${photo.file} with ${here.length} markings: ${names}. Keys + and - zoom, Shift and arrows move, e edits the outline.`;
  trouble.hidden = !photo.trouble;
  trouble.textContent = photo.trouble ? `${photo.file} ${photo.trouble}.` : '';
  const seen = await stage.show(photo, index, here, marking.id, look);
  if (!seen && !photo.trouble && current === marking.id) {
    trouble.hidden = false;
    trouble.textContent = `${photo.file} cannot be shown.`;
  }
  if (!photo.trouble) net.foresee(index);
  const after = byId.get(order[order.indexOf(marking.id) + 1]);
  if (after && state.photos[after.photo] && !state.photos[after.photo].trouble) setTimeout(() => stage.viewer.keep(state.photos[after.photo], after.photo).catch(() => {}), 400);
}

function show({look = true} = {}) {
  const shown = order.filter((id) => byId.has(id));
  $('undo').disabled = !state.undo;
  $('redo').disabled = !state.redo;
  $('undo').title = state.undo ? `Undo: ${state.undo}` : '';
  $('redo').title = state.redo ? `Redo: ${state.redo}` : '';
  showProgress(state.markings);
  $('shown').textContent = shown.length === state.markings.length ? `${shown.length} markings` : `${shown.length} of ${state.markings.length} markings`;
  showList($('list'), shown, byId, current, (id) => choose(id));
  const marking = byId.get(current);
  document.querySelector('main').classList.toggle('empty', !marking);
  if (!marking) {
    $('shown').textContent = state.markings.length ? 'Nothing to show here: choose another filter.' : 'This survey has no markings. Draw what was missed, or assess other photos.';
    return;
  }
  verdict.show(marking);
  showViews(marking);
  showPhoto(marking, look);
}

function choose(id, focus = false) {
  if (!byId.has(id)) return;
  if (stage.mode !== 'look') leave();
  if (!order.includes(id)) {
    $('filter').value = 'all';
    rank(true);
    if (!order.includes(id)) order.push(id);
  }
  current = id;
  show();
  const m = byId.get(id);
  say(`${m.id}, ${kindWords[m.kind]}, ${m.unmeasured ? 'not measured' : `${percent(m.remaining[1])} left`}, ${actionWords[m.decision.action]}${isConfirmed(m) ? ', confirmed' : m.decision.needs_review ? ', in doubt' : ''}`);
  if (focus) document.querySelector('#marking-title').focus();
}
function step(by, wanted = () => true) {
  const shown = order.filter((id) => byId.has(id)), at = shown.indexOf(current);
  for (let i = 1; i <= shown.length; ++i) {
    const id = shown[(at + by * i + shown.length * 2) % shown.length];
    if (wanted(byId.get(id))) return choose(id);
  }
  say('There is no other one.');
}
const nextOpen = () => {
  if (state.markings.every((m) => isSettled(m))) return notice('Every marking is checked. Press Done, or look again at any of them.');
  if (!order.some((id) => byId.has(id) && !isSettled(byId.get(id)))) return notice('Every marking shown here is checked; choose another filter for the rest.');
  step(1, (m) => !isSettled(m));
};

// ---- what a person does

async function confirm() {
  const m = byId.get(current);
  if (!m) return;
  if (stage.mode !== 'look') leave();
  if (isConfirmed(m)) return tell({confirmed: null}, `${m.id} is not confirmed any more`);
  if (await tell(isFalse(m) ? {confirmed: true, false_alarm: null} : {confirmed: true}, `${m.id} confirmed`)) nextOpen();
}
const falseAlarm = () => byId.get(current) && tell({false_alarm: isFalse(byId.get(current)) ? null : true});

async function redraw(rings) {
  const answer = await send({is: 'draw', id: current, outline: rings});
  if (answer) {
    const m = byId.get(current);
    say(m.unmeasured ? m.decision.reasons.at(-1) : `Measured again: ${percent(m.remaining[1])} left, ${actionWords[m.decision.action]}`);
  }
  show({look: false});
}
async function added(wish) {
  const photo = stage.viewer.index;
  const kind = $('draw-kind').value, colour = $('draw-colour').value;
  const answer = await send({kind, photo, ...(colour ? {colour} : {}), ...wish});
  if (!answer) return stage.setMode(stage.mode, stage.more);
  current = answer.markings[0].id;
  stage.setMode('look');
  show({look: false});
  stage.setMode('edit');
  const m = byId.get(current);
  say(`${m.id} added, ${kindWords[m.kind]}, ${m.unmeasured ? 'not measured' : `${percent(m.remaining[1])} left`}. Its corners can be moved.`);
}
async function travel(is) {
  stage.settle();
  const answer = await send({is});
  if (!answer) return;
  const id = answer.markings[0]?.id;
  notice('');
  say(`${is === 'undo' ? 'Undone' : 'Made again'}: ${answer.what}`);
  if (id && id !== current) return choose(id);
  show({look: false});
}

function leave() {
  stage.settle();
  stage.setMode('look');
  show({look: false});
}
function modeChanged() {
  const {mode} = stage, drawing = mode === 'draw' || mode === 'lay';
  $('edit-outline').setAttribute('aria-pressed', String(mode === 'edit'));
  $('draw').setAttribute('aria-pressed', String(drawing));
  $('edit-bar').hidden = mode !== 'edit';
  $('draw-bar').hidden = !drawing;
  $('draw-kind').parentElement.hidden = mode === 'lay' || Boolean(stage.more.ring);
  $('draw-colour').parentElement.hidden = Boolean(stage.more.ring);
  $('close-ring').hidden = mode === 'lay';
  $('template').value = mode === 'lay' ? stage.more.shape : '';
  const hints = {
    edit: 'Drag a corner, or a dot between two for a new one. Every change is measured at once.',
    draw: `Put the corners of the ${stage.more?.ring ? 'new ring' : 'marking'} one after the other; the first one, Enter or a double click closes it.`,
    lay: `${titled(state.shapes.find((s) => s.name === stage.more?.shape)?.hint ?? '')}.`,
  };
  $('hint').textContent = hints[mode] ?? '';
  $('hint').hidden = mode === 'look';
  $('photo').classList.toggle('drawing', drawing);
  if (mode !== 'look') say(hints[mode]);
}
const edit = () => (stage.mode === 'edit' ? leave() : byId.get(current) && (stage.setMode('edit'), stage.lookAt('marking'), $('photo').focus()));
const draw = () => (stage.mode === 'draw' && !stage.more.ring ? leave() : (stage.setMode('draw'), $('photo').focus()));
const inEdit = (work) => () => (stage.mode === 'edit' ? work() : say('Press e first to edit the outline.'));

const inks = ['system', 'light', 'dark'];
function theme() {
  const next = inks[(inks.indexOf(document.documentElement.dataset.theme ?? 'system') + 1) % inks.length];
  if (next === 'system') delete document.documentElement.dataset.theme;
  else document.documentElement.dataset.theme = next;
  $('theme').setAttribute('aria-label', `Colours: ${next === 'system' ? 'as the system' : next}`);
  $('theme').textContent = next === 'system' ? 'Colours' : titled(next);
  stage.viewer.later();
}
const openDialog = (dialog) => dialog.showModal();
const field = (id) => () => {
  $(id).focus();
  $(id).showPicker?.();
};
const tapped = (id) => () => {
  try { field(id)(); } catch { /* a browser may refuse to open a list by itself; it has the focus */ }
};

const actions = {
  next: () => step(1), previous: () => step(-1), nextOpen, confirm, falseAlarm,
  filter: tapped('filter'), rank: tapped('rank'), kind: tapped('kind'), colour: tapped('colour'), adhesion: tapped('adhesion'),
  coats: () => $('coats').focus(), below: tapped('below'), note: () => $('note').focus(), template: tapped('template'),
  leave: () => tell({action: 'no-action'}), repaint: () => tell({action: 'repaint'}), grind: () => tell({action: 'grind-and-repaint'}),
  byPolicy: () => tell({action: null}),
  same: () => {
    const m = byId.get(current);
    if (!m) return;
    fillSame($('same'), m, state, (same_as) => tell({same_as}));
    openDialog($('same'));
  },
  sitePlan: () => {
    fillSitePlan($('site-plan'), state, (index, mine) => {
      const open = mine.find((m) => !isSettled(m)) ?? mine[0];
      if (open) choose(open.id, true);
      else stage.show(state.photos[index], index, [], null, true);
    });
    openDialog($('site-plan'));
  },
  help: () => openDialog($('help')),
  zoomIn: () => stage.viewer.zoom(1.5), zoomOut: () => stage.viewer.zoom(1 / 1.5),
  zoomMarking: () => stage.lookAt('marking'), zoomPhoto: () => stage.lookAt('photo'),
  edit, draw, cornerBack: inEdit(() => stage.cornerBy(-1)), cornerOn: inEdit(() => stage.cornerBy(1)),
  cornerAdd: inEdit(() => stage.cornerAdd()), cornerRemove: inEdit(() => stage.cornerRemove()),
  ringAdd: inEdit(() => { stage.settle(); stage.setMode('draw', {ring: true}); $('photo').focus(); }), ringRemove: inEdit(() => stage.ringRemove()),
  found: inEdit(() => redraw(undefined)),
  undo: () => travel('undo'), redo: () => travel('redo'), theme,
  escape: () => {
    if (stage.mode === 'draw' && stage.more.ring) return stage.setMode('edit');
    if (stage.mode !== 'look') return leave();
    document.activeElement?.blur?.();
  },
};

function ended(words) {
  stopStaying?.();
  notice(words, true);
  document.body.classList.add('over');
}
async function finish() {
  verdict?.noteNow();
  stage.settle();
  await sending;
  const confirmed = state.markings.filter(isConfirmed).length, open = state.markings.filter((m) => !isSettled(m)).length;
  stopStaying?.();
  try {
    await net.done();
  } catch (error) {
    return ended(error.message);
  }
  document.body.replaceChildren(el('main', {class: 'end'}, el('h1', {}, 'The review has ended'),
    el('p', {}, `Everything is saved: ${confirmed} markings confirmed, ${open} not looked at yet. You can close this page.`),
    el('p', {}, 'Next: ', el('code', {}, 'lotwear estimate'), ' and ', el('code', {}, 'lotwear report'), ' use what you decided.')));
}

function wire() {
  const buttons = {
    'undo': actions.undo, 'redo': actions.redo, 'open-site': actions.sitePlan, 'open-help': actions.help, 'theme': theme, 'done': finish,
    'zoom-in': actions.zoomIn, 'zoom-out': actions.zoomOut, 'zoom-marking': actions.zoomMarking, 'zoom-photo': actions.zoomPhoto,
    'edit-outline': edit, 'draw': draw, 'corner-add': actions.cornerAdd, 'corner-remove': actions.cornerRemove, 'ring-add': actions.ringAdd,
    'ring-remove': actions.ringRemove, 'outline-found': actions.found, 'edit-end': leave, 'close-ring': () => stage.close(), 'draw-cancel': actions.escape,
  };
  for (const [id, action] of Object.entries(buttons)) $(id).addEventListener('click', action);
  for (const id of ['filter', 'rank']) {
    $(id).addEventListener('change', () => {
      rank(true);
      if (!order.includes(current)) current = order[0] ?? null;
      show();
      say(`${order.length} markings shown`);
    });
  }
  $('template').addEventListener('change', (event) => {
    if (!event.target.value) return leave();
    stage.setMode('lay', {shape: event.target.value});
    $('photo').focus();
  });
  addEventListener('keydown', (event) => {
    if (document.body.classList.contains('over')) return;
    const typing = event.target.closest?.('input, textarea, select, dialog[open], button');
    if (!typing && !event.ctrlKey && stage.key(event)) return event.preventDefault();
    const action = actionFor(event);
    if (!action) return;
    event.preventDefault();
    actions[action]();
  });
}

async function begin() {
  take(await net.state());
  document.title = `${state.site.name ?? 'Survey'}: lotwear review`;
  $('site').textContent = state.site.name ?? 'Survey';
  const days = [...new Set(state.photos.map((p) => p.taken?.slice(0, 10)).filter(Boolean))].sort();
  $('subtitle').textContent = `${state.photos.length} photos${days.length ? `, ${days[0]}${days.length > 1 ? ` to ${days.at(-1)}` : ''}` : ''}`;
  fillFilter($('filter'), state.kinds, state.markings);
  for (const [name, [words]] of Object.entries(ranks)) $('rank').append(el('option', {value: name}, words));
  $('template').append(el('option', {value: ''}, 'choose…'), ...state.shapes.map((s) => el('option', {value: s.name}, shapeWords(s.name))));
  $('draw-kind').append(...state.kinds.map((kind) => el('option', {value: kind}, kindWords[kind])));
  $('draw-colour').append(el('option', {value: ''}, 'as measured'), ...state.colours.map((colour) => el('option', {value: colour}, titled(colour))));
  fillHelp($('help'));
  stage = new Stage($('photo'), $('canvas'), $('overlay'), {
    select: (id) => choose(id), outline: redraw, say, modeChanged,
    add: (outline) => added({is: 'add', outline}), lay: (shape, [fx, fy], [tx, ty]) => added({is: 'lay', shape, from: {x: fx, y: fy}, to: {x: tx, y: ty}}),
  });
  verdict = new Verdict($('verdict'), state, {
    say: tell, confirm, falseAlarm, next: actions.next, previous: actions.previous, same: actions.same, repaintBelow: () => state.repaint_below,
  });
  wire();
  modeChanged();
  rank();
  show();
  stopStaying = net.stay(async (revision) => {
    if (revision <= state.revision || waiting) return;
    await sending;
    if (revision > state.revision) await again('Changed in another tab or by another command; this is the present state.').catch(() => {});
  }, (error) => error instanceof net.Ended && ended(error.message));
}

begin().catch((error) => {
  console.error(error);
  ended(error.message);
});
