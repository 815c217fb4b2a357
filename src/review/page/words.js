// Words for people, and small helpers that make elements. Text goes in as text only: names and notes stay inert.
export const kindWords = {
  'line': 'Line', 'stop-line': 'Stop line', 'crosswalk': 'Crosswalk', 'arrow-straight': 'Arrow, ahead',
  'arrow-left': 'Arrow, left', 'arrow-right': 'Arrow, right', 'arrow-straight-left': 'Arrow, ahead and left',
  'arrow-straight-right': 'Arrow, ahead and right', 'arrow-left-right': 'Arrow, left and right',
  'accessible-symbol': 'Accessible symbol', 'hatching': 'Hatching', 'legend': 'Legend', 'yield-line': 'Yield line',
  'curb': 'Curb', 'other': 'Other',
};
/// A marking's kind, a legend's with its words.
export const kindOf = (m) => `${kindWords[m.kind] ?? m.kind}${m.words ? ` “${m.words}”` : ''}`;
export const actionWords = {'no-action': 'Leave it', 'repaint': 'Repaint', 'grind-and-repaint': 'Grind and repaint'};
export const shapeWords = (name) => {
  const plain = name.replace(/-/g, ' ');
  return plain[0].toUpperCase() + plain.slice(1);
};
export const titled = (word) => (word ? word[0].toUpperCase() + word.slice(1) : '');
export const percent = (value) => `${Math.round(value)} %`;

/// el('p', {class: 'quiet', onclick: f}, 'text', otherElement)
export function el(name, settings = {}, ...inside) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(settings)) {
    if (value === undefined || value === null || value === false) continue;
    if (key.startsWith('on')) made.addEventListener(key.slice(2), value);
    else if (key === 'value' || key === 'disabled' || key === 'checked') made[key] = value;
    else made.setAttribute(key, value === true ? '' : value);
  }
  made.append(...inside.filter((one) => one !== null && one !== undefined && one !== false));
  return made;
}

const svgSpace = 'http://www.w3.org/2000/svg';
export function svg(name, settings = {}, ...inside) {
  const made = document.createElementNS(svgSpace, name);
  for (const [key, value] of Object.entries(settings)) made.setAttribute(key, value);
  made.append(...inside);
  return made;
}
export function sign(name, label) {
  const made = svg('svg', {class: `sign sign-${name}`, viewBox: '0 0 16 16', ...(label ? {role: 'img', 'aria-label': label} : {'aria-hidden': 'true'})});
  made.append(svg('use', {href: `#sign-${name}`}));
  return made;
}

export const isConfirmed = (marking) => Boolean(marking.person?.confirmed);
export const isFalse = (marking) => Boolean(marking.person?.false_alarm);
export const isSettled = (marking) => isConfirmed(marking) || isFalse(marking);
export const inDoubt = (marking) => marking.decision.needs_review && !isSettled(marking);

export function sizeWords(size) {
  if (!size) return 'not known: the photo has no scale';
  const metres = (value) => value < 0.995 ? `${Math.round(value * 1000)} mm` : `${value.toFixed(2)} m`;
  const feet = (value) => {
    const inches = value / 0.0254;
    return inches < 24 ? `${inches.toFixed(1)} in` : `${(inches / 12).toFixed(1)} ft`;
  };
  return `${metres(size.length_m)} × ${metres(size.width_m)} (${feet(size.length_m)} × ${feet(size.width_m)}), ${size.area_m2.toFixed(2)} m², lengths ± ${size.error_percent} %`;
}
