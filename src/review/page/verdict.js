// What is known of one marking, and what a person says about it. Built once; `show` puts values in and leaves alone the
// field that is being written in.
import {actionWords, el, inDoubt, isConfirmed, isFalse, kindOf, kindWords, percent, sign, sizeWords, svg, titled} from './words.js';

const shares = [
  ['paint', 'Paint left', (m) => m.remaining[1]], ['abraded', 'Worn off', (m) => m.loss.abraded],
  ['flaked', 'Flaked off', (m) => m.loss.flaked], ['cracked', 'Cracked', (m) => m.loss.cracked],
];
const tapePull = ['0: over 65 % came off', '1: 35 to 65 %', '2: 15 to 35 %', '3: 5 to 15 %', '4: under 5 %', '5: nothing came off'];

function labelled(words, field, id, beside) {
  field.id = id;
  const notes = beside ? el('span', {class: 'beside', id: `${id}-beside`}) : null;
  if (notes) field.setAttribute('aria-describedby', `${id}-beside`);
  return [el('label', {for: id}, words), field, notes];
}
const options = (pairs) => pairs.map(([value, words]) => el('option', {value}, words));

export class Verdict {
  /// say(fields), same(), next(), previous()
  constructor(holder, state, asks) {
    this.asks = asks;
    this.parts = {};
    const p = this.parts;
    p.title = el('h2', {id: 'marking-title', tabindex: '-1'});
    p.about = el('p', {class: 'about'});
    p.standing = el('p', {class: 'standing'});
    p.confirm = el('button', {type: 'button', class: 'strong', id: 'confirm', onclick: () => asks.confirm()}, 'Confirm');
    p.false = el('button', {type: 'button', id: 'false-alarm', onclick: () => asks.falseAlarm()});
    const walk = el('div', {class: 'bar'}, p.confirm,
      el('button', {type: 'button', id: 'previous', onclick: () => asks.previous()}, 'Back'),
      el('button', {type: 'button', id: 'next', onclick: () => asks.next()}, 'Next'), p.false);
    holder.replaceChildren(el('header', {}, p.title, p.about, p.standing), walk, this.numbers(), this.decision(state), this.what(state), this.known(state), this.again());
  }

  numbers() {
    const p = this.parts;
    p.left = el('p', {class: 'left'});
    p.gauge = svg('svg', {class: 'gauge', viewBox: '0 0 400 54', role: 'img'});
    p.losses = el('ul', {class: 'losses'});
    p.size = el('p', {class: 'quiet size'});
    return el('section', {'aria-label': 'Measured'}, p.left, p.gauge, p.losses, p.size);
  }

  decision(state) {
    const p = this.parts;
    p.actions = state.actions.map((action, i) => {
      const input = el('input', {type: 'radio', name: 'action', id: `action-${action}`, value: action, onchange: () => this.asks.say({action})});
      return [action, input, el('label', {for: `action-${action}`, class: `action ${action}`}, sign(action), actionWords[action], el('kbd', {'aria-hidden': 'true'}, String(i + 1)))];
    });
    p.byPolicy = el('button', {type: 'button', id: 'by-policy', onclick: () => this.asks.say({action: null})}, 'As the policy says');
    p.sure = el('p', {class: 'quiet'});
    p.reasons = el('ul', {class: 'reasons'});
    return el('section', {}, el('fieldset', {class: 'actions'}, el('legend', {}, 'What to do'), ...p.actions.flatMap(([, input, label]) => [input, label])),
      p.byPolicy, p.sure, p.reasons);
  }

  what(state) {
    const p = this.parts;
    const choose = (name) => (event) => this.asks.say({[name]: event.target.value});
    p.kind = el('select', {onchange: choose('kind')}, ...options(state.kinds.map((one) => [one, kindWords[one] ?? one])));
    p.colour = el('select', {onchange: choose('colour')}, ...options(state.colours.map((one) => [one, titled(one)])));
    p.kindBack = this.back('kind');
    p.colourBack = this.back('colour');
    return el('section', {class: 'fields', 'aria-label': 'What it is'}, ...labelled('Kind', p.kind, 'kind', true), p.kindBack,
      ...labelled('Colour', p.colour, 'colour', true), p.colourBack);
  }
  back(name) {
    return el('button', {type: 'button', class: 'small', hidden: true, 'aria-label': `Take your word on the ${name} back`, onclick: () => this.asks.say({[name]: null})}, 'As measured');
  }

  known(state) {
    const p = this.parts;
    const whole = (name) => (event) => {
      if (!event.target.reportValidity()) return;
      this.asks.say({[name]: event.target.value === '' ? null : Number(event.target.value)});
    };
    const flag = (name) => (event) => this.asks.say({[name]: event.target.value === '' ? null : event.target.value === 'yes'});
    p.adhesion = el('select', {onchange: (event) => this.asks.say({adhesion: event.target.value === '' ? null : Number(event.target.value)})},
      ...options([['', 'Not done'], ...tapePull.map((words, i) => [String(i), i <= state.grind_adhesion ? `${words} (grind)` : words])]));
    p.coats = el('input', {type: 'number', min: '0', max: '50', step: '1', inputmode: 'numeric', onchange: whole('coats')});
    p.incompatible_below = el('select', {onchange: flag('incompatible_below')}, ...options([['', 'Not known'], ['no', 'New paint holds on it'], ['yes', 'New paint does not hold on it (grind)']]));
    p.build_up_mm = el('input', {type: 'number', min: '0', max: '50', step: '0.1', inputmode: 'decimal', onchange: whole('build_up_mm')});
    p.build_up_sound = el('select', {onchange: flag('build_up_sound')}, ...options([['', 'Not looked at'], ['yes', 'Found sound'], ['no', 'Not sound']]));
    p.note = el('textarea', {rows: '3', maxlength: '1900', oninput: () => this.noteSoon(), onchange: () => this.noteNow()});
    return el('section', {class: 'fields'}, el('h3', {}, 'What only you know'),
      ...labelled('Tape pull', p.adhesion, 'adhesion'), ...labelled('Coats', p.coats, 'coats'), ...labelled('Paint below', p.incompatible_below, 'below'),
      ...labelled('All coats, mm', p.build_up_mm, 'build-up'), ...labelled('Build-up', p.build_up_sound, 'sound'), ...labelled('Note', p.note, 'note'));
  }

  again() {
    const p = this.parts;
    p.same = el('p', {});
    p.sameButton = el('button', {type: 'button', id: 'same-as', onclick: () => this.asks.same()}, 'Same as another…');
    p.sameBack = el('button', {type: 'button', class: 'small', onclick: () => this.asks.say({same_as: this.marking.person?.same_as ? null : this.marking.id})}, 'It is not');
    return el('section', {class: 'again', 'aria-label': 'Seen twice'}, p.same, el('div', {class: 'bar'}, p.sameButton, p.sameBack));
  }

  /// A note is saved a moment after the last letter: a closed lid loses a word at most.
  noteSoon() {
    clearTimeout(this.soon);
    this.soon = setTimeout(() => this.noteNow(), 1500);
  }
  noteNow() {
    clearTimeout(this.soon);
    const value = this.parts.note.value.trim();
    if (value === (this.marking?.person?.note ?? '')) return;
    this.asks.say({note: value || null});
  }

  show(marking) {
    const p = this.parts, person = marking.person ?? {}, other = this.marking?.id !== marking.id;
    if (other) this.noteNow();
    this.marking = marking;
    p.title.replaceChildren(sign(marking.decision.action), `${marking.id} ${kindOf(marking)}`);
    p.about.textContent = `${marking.colour}${marking.surface === 'other' ? '' : ` on ${marking.surface}`}, priority ${marking.decision.priority.toFixed(2)}`;
    this.showStanding(marking);
    p.confirm.textContent = isConfirmed(marking) ? 'Confirmed ✓' : 'Confirm';
    p.confirm.setAttribute('aria-pressed', String(isConfirmed(marking)));
    p.false.textContent = isFalse(marking) ? 'It is a marking' : 'False alarm';
    this.showNumbers(marking);
    this.showDecision(marking, person);
    this.showWhat(marking, person);
    for (const [name, value] of [['adhesion', person.adhesion], ['coats', person.coats], ['build_up_mm', person.build_up_mm], ['note', person.note]]) this.put(p[name], value ?? '', other);
    for (const name of ['incompatible_below', 'build_up_sound']) this.put(p[name], person[name] === undefined ? '' : person[name] ? 'yes' : 'no', other);
    p.same.textContent = marking.same_as ? `This is the same paint as ${marking.same_as}: it is counted once.` : '';
    p.sameBack.hidden = !marking.same_as;
  }
  put(field, value, other) {
    if (!other && document.activeElement === field && field.tagName !== 'SELECT') return;
    if (field.value !== String(value)) field.value = String(value);
  }

  showStanding(marking) {
    const words = [];
    if (isFalse(marking)) words.push('Struck out as a false alarm: it counts nowhere.');
    else if (isConfirmed(marking)) words.push('Confirmed by a person.');
    else if (inDoubt(marking)) words.push('The photo leaves this one open: please look.');
    if (marking.person?.added) words.push('Drawn by hand.');
    if (marking.redrawn) words.push(`Outline corrected; measured before: ${percent(marking.measured.remaining)} left.`);
    this.parts.standing.textContent = words.join(' ');
    this.parts.standing.className = `standing ${inDoubt(marking) ? 'doubt' : ''}`;
  }

  showNumbers(marking) {
    const p = this.parts, [low, value, high] = marking.remaining;
    p.left.replaceChildren(...(marking.unmeasured ? [el('b', {}, 'Not measured')] : [el('b', {}, percent(value)), ` paint left, ${Math.round(low)} to ${percent(high)}`]));
    p.gauge.replaceChildren();
    p.gauge.setAttribute('aria-label', marking.unmeasured ? 'Not measured' : shares.map(([, words, of]) => `${words} ${percent(of(marking))}`).join(', '));
    let at = 0;
    for (const [name, , of] of marking.unmeasured ? [] : shares) {
      p.gauge.append(svg('rect', {x: at * 4, y: 10, width: Math.max(0, of(marking)) * 4, height: 20, class: `share ${name}`}));
      at += of(marking);
    }
    if (!marking.unmeasured) {
      p.gauge.append(svg('path', {d: `M${low * 4} 4v32M${high * 4} 4v32M${low * 4} 36H${high * 4}`, class: 'span'}), svg('path', {d: `M${this.asks.repaintBelow() * 4} 6v34`, class: 'limit'}), this.limitWords());
    }
    const {older, faded, soiled} = marking.loss;
    const rows = shares.slice(1).map(([name, words, of]) => [name, words, of(marking)]);
    rows.push(['older', `Older coat in sight${marking.older_colour ? `, ${marking.older_colour}` : ''}`, older], [null, 'Faded', faded], [null, 'Dirty (no loss)', soiled]);
    p.losses.replaceChildren(...rows.filter(([, , value_]) => value_ >= 0.5).map(([name, words, value_]) => el('li', {}, el('i', {class: `swatch ${name ?? 'none'}`, 'aria-hidden': 'true'}), `${words} `, el('b', {}, percent(value_)))));
    p.size.textContent = `Size ${sizeWords(marking.size)}`;
  }

  limitWords() {
    const at = this.asks.repaintBelow();
    const words = svg('text', {x: at * 4 - 6, y: 50, 'text-anchor': 'end'});
    words.textContent = `below ${at} %: repaint`;
    return words;
  }

  showDecision(marking, person) {
    const p = this.parts, {decision, measured} = marking;
    for (const [action, input, label] of p.actions) {
      input.checked = decision.action === action;
      label.classList.toggle('measured', measured.decision.action === action);
      label.title = measured.decision.action === action ? 'What the measurement alone says' : '';
    }
    p.byPolicy.hidden = !person.action;
    p.sure.textContent = person.action ? `You decided. Measured alone: ${actionWords[measured.decision.action].toLowerCase()}.`
      : `By the policy, ${percent(100 * decision.confidence)} sure.${measured.decision.action === decision.action ? '' : ` Measured alone: ${actionWords[measured.decision.action].toLowerCase()}.`}`;
    p.reasons.replaceChildren(...decision.reasons.map((one) => el('li', {}, one)));
  }

  showWhat(marking, person) {
    const p = this.parts, {measured} = marking;
    this.put(p.kind, marking.kind);
    this.put(p.colour, marking.colour);
    const beside = (id, words) => { document.getElementById(`${id}-beside`).textContent = words; };
    beside('kind', person.added ? '' : person.kind ? `measured: ${kindWords[measured.kind].toLowerCase()}` : `${percent(100 * measured.kind_confidence)} sure`);
    beside('colour', person.colour && !person.added ? `measured: ${measured.colour}` : '');
    p.kindBack.hidden = !person.kind || Boolean(person.added);
    p.colourBack.hidden = !person.colour;
  }
}
