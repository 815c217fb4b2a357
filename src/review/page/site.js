// The site by the places where the photos were taken: north up, no map behind it, and no more exact than a phone knows.
import {actionWords, el, isFalse, isSettled, kindWords, svg} from './words.js';

const worst = ['grind-and-repaint', 'repaint', 'no-action'];

/// Photos taken within a few steps of each other would lie on each other: they are pushed apart until their signs are clear.
function spread(points, least) {
  for (let round = 0; round < 60; ++round) {
    let moved = false;
    for (let i = 0; i < points.length; ++i) {
      for (let j = 0; j < i; ++j) {
        const dx = points[i].x - points[j].x, dy = points[i].y - points[j].y, away = Math.hypot(dx, dy);
        if (away >= least) continue;
        const by = (least - away) / 2, ux = away > 0.01 ? dx / away : 1, uy = away > 0.01 ? dy / away : 0;
        points[i].x += ux * by;
        points[i].y += uy * by;
        points[j].x -= ux * by;
        points[j].y -= uy * by;
        moved = true;
      }
    }
    if (!moved) return;
  }
}

function scaleBar(metresPerUnit, height) {
  const length = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000].find((one) => one / metresPerUnit > 60) ?? 1000;
  const wide = length / metresPerUnit;
  return svg('g', {class: 'scale'}, svg('path', {d: `M20 ${height - 20}v6h${wide}v-6`}), textAt(20 + wide / 2, height - 22, `${length} m`));
}
function textAt(x, y, words, more = {}) {
  const text = svg('text', {x, y, 'text-anchor': 'middle', ...more});
  text.textContent = words;
  return text;
}

function spot(point, go) {
  const {photo, index, mine} = point;
  const action = worst.find((one) => mine.some((m) => m.decision.action === one)) ?? 'no-action';
  const open = mine.filter((m) => !isSettled(m)).length;
  const words = `${photo.file}: ${mine.map((m) => `${m.id} ${kindWords[m.kind]}`).join(', ') || 'no markings'}. ${open ? `${open} to check` : 'all checked'}. Worst: ${actionWords[action].toLowerCase()}.`;
  const made = svg('g', {class: `spot ${action} ${open ? '' : 'settled'}`, transform: `translate(${point.x} ${point.y})`, role: 'button', tabindex: '0', 'aria-label': words},
    svg('title', {}, words), svg('circle', {r: 19}), svg('use', {href: `#sign-${action}`, x: -9, y: -15, width: 18, height: 18}), textAt(0, 14, open ? String(open) : '✓'));
  const choose = () => go(index, mine);
  made.addEventListener('click', choose);
  made.addEventListener('keydown', (event) => {
    if (event.key !== 'Enter' && event.key !== ' ') return;
    event.preventDefault();
    event.stopPropagation();  // the dialog closes, and the same key would confirm what comes into view
    choose();
  });
  return made;
}

export function fillSitePlan(dialog, state, go) {
  const close = el('button', {type: 'button', onclick: () => dialog.close()}, 'Close');
  const choose = (index, mine) => {
    dialog.close();
    go(index, mine);
  };
  const points = state.photos.map((photo, index) => ({photo, index, mine: state.markings.filter((m) => m.photo === index && !isFalse(m))}));
  const placed = points.filter((p) => p.photo.place);
  const body = el('div', {class: 'site'});
  if (placed.length) {
    const xs = placed.map((p) => p.photo.place[0]), ys = placed.map((p) => -p.photo.place[1]);
    const wide = Math.max(8, Math.max(...xs) - Math.min(...xs)), high = Math.max(8, Math.max(...ys) - Math.min(...ys));
    const width = 900, scale = Math.min((width - 120) / wide, 480 / high), height = Math.max(220, high * scale + 120);
    for (const p of placed) {
      p.x = width / 2 + (p.photo.place[0] - (Math.max(...xs) + Math.min(...xs)) / 2) * scale;
      p.y = height / 2 + (-p.photo.place[1] - (Math.max(...ys) + Math.min(...ys)) / 2) * scale;
    }
    spread(placed, 42);
    const drawing = svg('svg', {viewBox: `0 0 ${width} ${height}`, role: 'group', 'aria-label': 'Site plan, north up'});
    drawing.append(svg('path', {class: 'walked', d: `M${placed.map((p) => `${p.x} ${p.y}`).join('L')}`}));
    drawing.append(svg('g', {class: 'north'}, svg('path', {d: 'M870 58V22m-7 10 7-12 7 12'}), textAt(870, 76, 'N')), scaleBar(1 / scale, height));
    drawing.append(...placed.map((p) => spot(p, choose)));
    body.append(drawing, el('p', {class: 'quiet'}, 'Where each photo was taken, as exact as the phone knew; the line is the walk. The number says how many of its markings are still to check.'));
  } else {
    body.append(el('p', {}, 'No photo of this survey knows where it was taken.'));
  }
  const list = el('ul', {class: 'photos'});
  for (const p of points) {
    const open = p.mine.filter((m) => !isSettled(m)).length;
    list.append(el('li', {}, el('button', {type: 'button', onclick: () => choose(p.index, p.mine)}, p.photo.file),
      ` ${p.mine.length} markings${open ? `, ${open} to check` : ''}${p.photo.place ? '' : ', no position'}`));
  }
  body.append(el('details', {open: !placed.length}, el('summary', {}, `All ${points.length} photos`), list));
  dialog.replaceChildren(el('header', {}, el('h2', {id: 'site-title'}, 'Site plan'), close), body);
}
