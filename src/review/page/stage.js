// Outlines over the photo: looking at them, dragging corners, drawing new ones, laying templates.
import {boxOf, inside, Viewer} from './viewer.js';
import {svg} from './words.js';

const kReach = 13;         // screen pixels in which a corner is taken
const kStill = 5;          // a press that moves less is a click
const kLongEdge = 46;      // screen pixels from which an edge offers a handle in its middle

export class Stage {
  /// asks: select(id), outline(rings), add(rings), lay(from, to), say(words), modeChanged()
  constructor(holder, canvas, overlay, asks) {
    this.asks = asks;
    this.holder = holder;
    this.overlay = overlay;
    this.viewer = new Viewer(holder, canvas, () => this.place());
    this.mode = 'look';
    this.more = {};
    this.markings = [];
    this.rings = null;     // of the one being edited
    this.points = [];      // of the ring being drawn
    this.corner = [0, 0];  // ring, corner
    this.pointers = new Map();
    holder.addEventListener('pointerdown', (event) => this.press(event));
    holder.addEventListener('pointermove', (event) => this.move(event));
    holder.addEventListener('pointerup', (event) => this.release(event));
    holder.addEventListener('pointercancel', (event) => this.pointers.delete(event.pointerId));
    holder.addEventListener('dblclick', (event) => this.twice(event));
  }

  async show(photo, index, markings, current, look) {
    this.photo = photo;
    this.markings = markings;
    this.current = current;
    if (this.mode === 'edit') this.rings = structuredClone(this.marking?.outline ?? null);
    this.build();
    const box = look && this.marking ? boxOf(this.marking.outline) : null;
    if (this.viewer.index === index && !look) {
      this.viewer.later();
      return true;
    }
    return this.viewer.show(photo, index, box);
  }
  get marking() { return this.markings.find((m) => m.id === this.current); }

  lookAt(what) { this.viewer.look(what === 'marking' && this.marking ? boxOf(this.rings ?? this.marking.outline) : null); }

  setMode(mode, more = {}) {
    if (mode === 'edit' && !this.marking) return;
    this.mode = mode;
    this.more = more;
    this.points = [];
    this.cross = null;
    this.rings = mode === 'edit' || more.ring ? structuredClone(this.marking.outline) : null;
    if (mode === 'edit') this.corner = [Math.min(this.corner[0], this.rings.length - 1), 0];
    this.build();
    this.viewer.later();
    this.asks.modeChanged();
  }

  // ---- what is drawn

  build() {
    this.shapes = svg('g', {});
    this.handles = svg('g', {class: 'handles'});
    for (const m of this.markings) {
      const here = m.id === this.current;
      const name = here ? 'current' : m.person?.false_alarm ? 'struck' : 'other';
      const outline = here && this.rings ? this.rings : m.outline;
      const d = outline.map((ring) => `M${ring.map((p) => p.join(' ')).join('L')}Z`).join('');
      this.shapes.append(svg('path', {d, class: `under ${name}`}), svg('path', {d, class: `over ${name}`}));
    }
    this.labels = this.markings.map((m) => [m, svg('text', {class: m.id === this.current ? 'label current' : 'label'}, m.id)]);
    this.overlay.replaceChildren(this.shapes, ...this.labels.map(([, label]) => label), this.handles);
  }

  place() {
    const {view} = this.viewer;
    this.shapes?.setAttribute('transform', `scale(${view.scale}) translate(${-view.x} ${-view.y})`);
    for (const [marking, label] of this.labels ?? []) {
      const box = boxOf(marking.outline), [x, y] = this.viewer.toScreen([box.left, box.top]);
      label.setAttribute('x', x);
      label.setAttribute('y', y - 6);
    }
    if (!this.handles) return;
    const parts = [];
    if (this.mode === 'edit') this.addHandles(parts);
    if (this.mode === 'draw' || this.mode === 'lay') this.addDrawing(parts);
    this.handles.replaceChildren(...parts);
  }

  addHandles(parts) {
    const seen = ([x, y]) => x > -20 && y > -20 && x < this.viewer.size.width + 20 && y < this.viewer.size.height + 20;
    this.rings.forEach((ring, r) => ring.forEach((point, c) => {
      const at = this.viewer.toScreen(point), next = this.viewer.toScreen(ring[(c + 1) % ring.length]);
      const middle = [(at[0] + next[0]) / 2, (at[1] + next[1]) / 2];
      if (Math.hypot(next[0] - at[0], next[1] - at[1]) > kLongEdge && seen(middle)) {
        parts.push(svg('circle', {cx: middle[0], cy: middle[1], r: 4, class: 'between'}));
      }
      const chosen = r === this.corner[0] && c === this.corner[1];
      if (seen(at)) parts.push(svg('rect', {x: at[0] - 5, y: at[1] - 5, width: 10, height: 10, class: chosen ? 'corner chosen' : 'corner'}));
    }));
  }

  addDrawing(parts) {
    const open = [...this.points];
    if (this.cross) open.push(this.cross);
    const screen = open.map((p) => this.viewer.toScreen(p));
    if (screen.length > 1) {
      const d = `M${screen.map((p) => p.join(' ')).join('L')}`;
      parts.push(svg('path', {d, class: 'under rubber'}), svg('path', {d, class: 'over rubber'}));
    }
    this.points.forEach((p) => {
      const [x, y] = this.viewer.toScreen(p);
      parts.push(svg('rect', {x: x - 5, y: y - 5, width: 10, height: 10, class: 'corner'}));
    });
    if (this.cross) {
      const [x, y] = this.viewer.toScreen(this.cross);
      parts.push(svg('path', {d: `M${x - 14} ${y}h28M${x} ${y - 14}v28`, class: 'cross'}));
    }
  }

  // ---- the hand

  clamped([x, y]) { return [Math.min(Math.max(x, 0), this.photo.width), Math.min(Math.max(y, 0), this.photo.height)].map((v) => Math.round(v * 10) / 10); }

  cornerAt(x, y) {
    const bounds = this.holder.getBoundingClientRect();
    let best = null, least = kReach;
    const try_ = (point, found) => {
      const [sx, sy] = this.viewer.toScreen(point), away = Math.hypot(sx - (x - bounds.left), sy - (y - bounds.top));
      if (away < least) least = away, best = found;
    };
    this.rings.forEach((ring, r) => ring.forEach((point, c) => try_(point, {ring: r, corner: c})));
    if (best) return best;
    this.rings.forEach((ring, r) => ring.forEach((point, c) => {
      const next = ring[(c + 1) % ring.length];
      const [a, b] = [this.viewer.toScreen(point), this.viewer.toScreen(next)];
      if (Math.hypot(a[0] - b[0], a[1] - b[1]) > kLongEdge) try_([(point[0] + next[0]) / 2, (point[1] + next[1]) / 2], {ring: r, corner: c, between: true});
    }));
    return best;
  }

  press(event) {
    if (!this.photo || event.button > 0) return;
    this.holder.focus({preventScroll: true});
    this.holder.setPointerCapture(event.pointerId);
    this.pointers.set(event.pointerId, [event.clientX, event.clientY]);
    this.start = [event.clientX, event.clientY];
    this.dragged = false;
    this.held = this.mode === 'edit' && this.pointers.size === 1 ? this.cornerAt(event.clientX, event.clientY) : null;
    if (!this.held) return;
    this.corner = [this.held.ring, this.held.corner];
    this.viewer.later();
  }

  move(event) {
    const before = this.pointers.get(event.pointerId);
    if (!before) {
      if (this.mode === 'draw' || this.mode === 'lay') {
        this.cross = this.clamped(this.viewer.toPhoto(event.clientX, event.clientY));
        this.viewer.later();
      }
      return;
    }
    const now = [event.clientX, event.clientY];
    if (this.pointers.size === 2) return this.pinch(event.pointerId, before, now);
    this.pointers.set(event.pointerId, now);
    if (!this.dragged && Math.hypot(now[0] - this.start[0], now[1] - this.start[1]) < kStill) return;
    if (this.held) {
      if (!this.dragged && this.held.between) this.insertAfter(this.held);
      this.dragged = true;
      this.rings[this.corner[0]][this.corner[1]] = this.clamped(this.viewer.toPhoto(...now));
      this.redraw();
      return;
    }
    const from = this.dragged ? before : this.start;
    this.dragged = true;
    this.viewer.pan(now[0] - from[0], now[1] - from[1]);
  }

  pinch(id, before, now) {
    const [, other] = [...this.pointers].find(([one]) => one !== id);
    const apart = (p) => Math.hypot(p[0] - other[0], p[1] - other[1]);
    this.pointers.set(id, now);
    this.dragged = true;
    this.held = null;
    this.viewer.pan((now[0] - before[0]) / 2, (now[1] - before[1]) / 2);
    if (apart(before) > 10) this.viewer.zoomAt((now[0] + other[0]) / 2, (now[1] + other[1]) / 2, apart(now) / apart(before));
  }

  release(event) {
    if (!this.pointers.delete(event.pointerId)) return;
    if (this.pointers.size) return;
    if (this.held && this.dragged) {
      this.held = null;
      return this.asks.outline(structuredClone(this.rings));
    }
    const chose = this.held;
    this.held = null;
    if (this.dragged || chose) return;
    const at = this.clamped(this.viewer.toPhoto(event.clientX, event.clientY));
    if (this.mode === 'draw' || this.mode === 'lay') return this.put(at);
    if (this.mode !== 'look') return;
    const hit = this.markings.filter((m) => inside(m.outline, at)).sort((a, b) => areaOf(a) - areaOf(b))[0];
    if (hit) this.asks.select(hit.id);
  }

  twice(event) {
    if (this.mode === 'look') this.viewer.zoomAt(event.clientX, event.clientY, 2);
    if (this.mode === 'draw' && this.points.length > 3) {
      this.points.pop();  // the second click put one more at the same place
      this.close();
    }
  }

  // ---- drawing

  put(at) {
    const reach = kReach / this.viewer.view.scale;
    if (this.mode === 'draw' && this.points.length > 2 && Math.hypot(at[0] - this.points[0][0], at[1] - this.points[0][1]) < reach) return this.close();
    this.points.push(at);
    if (this.mode === 'lay' && this.points.length === 2) {
      const [from, to] = this.points;
      this.asks.lay(this.more.shape, from, to);
      return;
    }
    this.asks.say(this.mode === 'lay' ? 'First point is set; put the second one.' : `${this.points.length} corners.`);
    this.viewer.later();
  }
  close() {
    if (this.points.length < 3) return this.asks.say('A ring needs at least three corners.');
    const ring = this.points;
    if (!this.more.ring) return this.asks.add([ring]);
    const rings = [...this.rings, ring];
    this.corner = [rings.length - 1, 0];
    this.setMode('edit');
    this.rings = rings;
    this.redraw();
    this.asks.outline(structuredClone(rings));
  }

  // ---- corners and rings

  redraw() {
    const paths = this.shapes.querySelectorAll('.current');
    const d = this.rings.map((ring) => `M${ring.map((p) => p.join(' ')).join('L')}Z`).join('');
    for (const path of paths) path.setAttribute('d', d);
    this.viewer.later();
  }
  insertAfter({ring, corner}) {
    const points = this.rings[ring], a = points[corner], b = points[(corner + 1) % points.length];
    points.splice(corner + 1, 0, this.clamped([(a[0] + b[0]) / 2, (a[1] + b[1]) / 2]));
    this.corner = [ring, corner + 1];
  }
  tellCorner() {
    const [r, c] = this.corner, ring = this.rings[r], [x, y] = ring[c];
    const which = this.rings.length > 1 ? `ring ${r + 1} of ${this.rings.length}, ` : '';
    this.asks.say(`${which}corner ${c + 1} of ${ring.length}, ${Math.round(x)} across, ${Math.round(y)} down`);
  }
  changed() {
    this.redraw();
    this.tellCorner();
    clearTimeout(this.soon);
    this.soon = setTimeout(() => this.settle(), 500);  // a held arrow key is one change
  }
  settle() {
    if (!this.soon) return;
    clearTimeout(this.soon);
    this.soon = null;
    if (this.mode === 'edit') this.asks.outline(structuredClone(this.rings));
  }

  cornerBy(step) {
    let [r, c] = this.corner;
    c += step;
    if (c >= this.rings[r].length) r = (r + 1) % this.rings.length, c = 0;
    if (c < 0) r = (r + this.rings.length - 1) % this.rings.length, c = this.rings[r].length - 1;
    this.corner = [r, c];
    this.tellCorner();
    this.viewer.later();
  }
  cornerAdd() {
    this.insertAfter({ring: this.corner[0], corner: this.corner[1]});
    this.changed();
  }
  cornerRemove() {
    const ring = this.rings[this.corner[0]];
    if (ring.length <= 3) return this.asks.say('A ring keeps at least three corners; remove the ring instead.');
    ring.splice(this.corner[1], 1);
    this.corner[1] %= ring.length;
    this.changed();
  }
  ringRemove() {
    if (this.rings.length === 1) return this.asks.say('This is the only ring; if there is no marking, call it a false alarm.');
    this.rings.splice(this.corner[0], 1);
    this.corner = [0, 0];
    this.changed();
  }

  /// Keys that belong to the photo while it is worked on. True where the key was taken.
  key(event) {
    const arrows = {ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1]};
    const by = arrows[event.key];
    if (this.mode === 'draw' || this.mode === 'lay') return this.drawingKey(event, by);
    if (this.mode === 'edit' && by) {
      const [r, c] = this.corner, step = event.shiftKey ? 10 : 1, [x, y] = this.rings[r][c];
      this.rings[r][c] = this.clamped([x + by[0] * step, y + by[1] * step]);
      this.changed();
      return true;
    }
    if (by && event.shiftKey) {
      this.viewer.pan(-by[0] * 60, -by[1] * 60);
      return true;
    }
    return false;
  }
  drawingKey(event, by) {
    if (by) {
      const step = (event.shiftKey ? 30 : 4) / this.viewer.view.scale, {x, y} = this.viewer.middle;
      const from = this.cross ?? [x, y];
      this.cross = this.clamped([from[0] + by[0] * step, from[1] + by[1] * step]);
      this.asks.say(`${Math.round(this.cross[0])} across, ${Math.round(this.cross[1])} down`);
    } else if (event.key === ' ' || (event.key === 'Enter' && this.mode === 'lay')) {
      const {x, y} = this.viewer.middle;
      this.put(this.cross ?? this.clamped([x, y]));
    } else if (event.key === 'Enter') {
      this.close();
    } else if (event.key === 'Backspace' || event.key === 'Delete') {
      this.points.pop();
    } else {
      return false;
    }
    this.viewer.later();
    return true;
  }
}

const areaOf = (marking) => {
  const box = boxOf(marking.outline);
  return (box.right - box.left) * (box.bottom - box.top);
};
