// The photo under the hand. Of 12 megapixels only what is in view is drawn, from the coarsest copy that is fine enough:
// the work of a frame goes with the window's size, not with the photo's.
const kMostPhotos = 4;  // kept ready; one takes about 65 MB

function halved(image) {
  const canvas = document.createElement('canvas');
  canvas.width = Math.max(1, Math.round(image.width / 2));
  canvas.height = Math.max(1, Math.round(image.height / 2));
  const pen = canvas.getContext('2d');
  pen.imageSmoothingQuality = 'high';
  pen.drawImage(image, 0, 0, canvas.width, canvas.height);
  return canvas;
}

async function bitmap(url) {
  const answer = await fetch(url);
  if (!answer.ok) throw new Error('no picture');
  return createImageBitmap(await answer.blob());
}

/// The photo and its halves. Where the browser shows it otherwise than lotwear sees it (HEIC, a torn orientation), lotwear
/// sends its own view.
async function loaded(photo, index) {
  let whole = await bitmap(`/photo/${index}`).catch(() => null);
  if (!whole || whole.width !== photo.width || whole.height !== photo.height) whole = await bitmap(`/photo/${index}/upright`);
  const levels = [whole];
  while (Math.max(levels.at(-1).width, levels.at(-1).height) > 900) levels.push(halved(levels.at(-1)));
  return levels;
}

export class Viewer {
  constructor(holder, canvas, drawn) {
    this.holder = holder;
    this.canvas = canvas;
    this.pen = canvas.getContext('2d', {alpha: false});
    this.drawn = drawn;
    this.kept = new Map();
    this.view = {x: 0, y: 0, scale: 1};
    this.photo = null;
    this.levels = null;
    this.fingers = new Map();
    new ResizeObserver(() => this.resized()).observe(holder);
    holder.addEventListener('wheel', (event) => {
      event.preventDefault();
      this.zoomAt(event.clientX, event.clientY, Math.exp(-event.deltaY * (event.ctrlKey ? 0.01 : 0.0016)));
    }, {passive: false});
  }

  keep(photo, index) {
    if (!this.kept.has(index)) this.kept.set(index, loaded(photo, index));
    const found = this.kept.get(index);
    this.kept.delete(index);
    this.kept.set(index, found);  // last used last
    while (this.kept.size > kMostPhotos) {
      const oldest = this.kept.keys().next().value;
      this.kept.get(oldest).then((levels) => levels[0].close?.(), () => {});
      this.kept.delete(oldest);
    }
    return found;
  }

  /// Shows a photo; `box` is what should be in view.
  async show(photo, index, box) {
    const other = this.index !== index;
    this.index = index;
    this.photo = photo;
    if (other) this.levels = null;
    this.look(box);
    try {
      const levels = await this.keep(photo, index);
      if (this.index !== index) return true;
      this.levels = levels;
      this.later();
      return true;
    } catch {
      this.kept.delete(index);
      if (this.index === index) this.later();
      return false;
    }
  }

  get size() { return {width: this.holder.clientWidth, height: this.holder.clientHeight}; }

  resized() {
    const {width, height} = this.size, ratio = devicePixelRatio;
    const middle = this.middle;
    this.canvas.width = Math.max(1, Math.round(width * ratio));
    this.canvas.height = Math.max(1, Math.round(height * ratio));
    if (this.box && !this.moved) return this.look(this.box);
    if (middle) this.view = {...this.view, x: middle.x - width / 2 / this.view.scale, y: middle.y - height / 2 / this.view.scale};
    this.draw();
  }

  /// Brings a box of the photo into view; the whole photo without one.
  look(box) {
    const {width, height} = this.size;
    if (!this.photo || !width) return;
    const whole = {left: 0, top: 0, right: this.photo.width, bottom: this.photo.height};
    this.box = box ?? whole;
    this.moved = false;
    const wide = this.box.right - this.box.left, high = this.box.bottom - this.box.top;
    const margin = box ? 0.15 * Math.max(wide, high) + 20 : 0;
    const fit = (w, h) => Math.min(width / w, height / h);
    // never smaller than the whole photo would be
    const scale = Math.min(8, Math.max(fit(wide + 2 * margin, high + 2 * margin), fit(whole.right, whole.bottom)));
    // the box in the middle, but no more empty ground beside the photo than there must be
    const start = (low, top, seen, all) => (seen >= all ? (all - seen) / 2 : Math.min(Math.max((low + top - seen) / 2, 0), all - seen));
    this.view = {scale, x: start(this.box.left, this.box.right, width / scale, whole.right), y: start(this.box.top, this.box.bottom, height / scale, whole.bottom)};
    this.later();
  }

  get middle() {
    const {width, height} = this.last ?? this.size;
    this.last = this.size;
    return this.photo ? {x: this.view.x + width / 2 / this.view.scale, y: this.view.y + height / 2 / this.view.scale} : null;
  }

  toPhoto(clientX, clientY) {
    const at = this.holder.getBoundingClientRect();
    return [this.view.x + (clientX - at.left) / this.view.scale, this.view.y + (clientY - at.top) / this.view.scale];
  }
  toScreen([x, y]) { return [(x - this.view.x) * this.view.scale, (y - this.view.y) * this.view.scale]; }

  zoomAt(clientX, clientY, by) {
    if (!this.photo) return;
    const at = this.holder.getBoundingClientRect(), [x, y] = this.toPhoto(clientX, clientY);
    const least = 0.5 * Math.min(this.size.width / this.photo.width, this.size.height / this.photo.height);
    const scale = Math.min(24, Math.max(least, this.view.scale * by));
    this.view = {scale, x: x - (clientX - at.left) / scale, y: y - (clientY - at.top) / scale};
    this.hold();
  }
  zoom(by) {
    const at = this.holder.getBoundingClientRect();
    this.zoomAt(at.left + at.width / 2, at.top + at.height / 2, by);
  }
  pan(dx, dy) {
    this.view = {...this.view, x: this.view.x - dx / this.view.scale, y: this.view.y - dy / this.view.scale};
    this.hold();
  }
  /// The middle of the window never leaves the photo.
  hold() {
    const {width, height} = this.size, {scale} = this.view;
    const within = (low, size, most) => Math.min(Math.max(low, -size / 2), most - size / 2);
    this.view.x = within(this.view.x, width / scale, this.photo.width);
    this.view.y = within(this.view.y, height / scale, this.photo.height);
    this.moved = true;
    this.later();
  }

  later() {
    if (this.asked) return;
    this.asked = true;
    requestAnimationFrame(() => {
      this.asked = false;
      this.draw();
    });
  }

  draw() {
    const {pen, canvas, view} = this, ratio = devicePixelRatio, zoom = view.scale * ratio;
    pen.fillStyle = getComputedStyle(this.holder).backgroundColor;
    pen.fillRect(0, 0, canvas.width, canvas.height);
    if (this.levels && this.photo) {
      const level = Math.min(this.levels.length - 1, Math.max(0, Math.floor(Math.log2(1 / zoom) + 0.01)));
      const image = this.levels[level], fx = image.width / this.photo.width, fy = image.height / this.photo.height;
      const left = Math.max(0, Math.floor(view.x)), top = Math.max(0, Math.floor(view.y));
      const right = Math.min(this.photo.width, Math.ceil(view.x + canvas.width / zoom));
      const bottom = Math.min(this.photo.height, Math.ceil(view.y + canvas.height / zoom));
      if (right > left && bottom > top) {
        pen.imageSmoothingEnabled = zoom < 3;  // from there on single pixels are what one wants to see
        pen.drawImage(image, left * fx, top * fy, (right - left) * fx, (bottom - top) * fy,
          (left - view.x) * zoom, (top - view.y) * zoom, (right - left) * zoom, (bottom - top) * zoom);
      }
    }
    this.drawn();
  }
}

export function boxOf(outline) {
  const box = {left: Infinity, top: Infinity, right: -Infinity, bottom: -Infinity};
  for (const [x, y] of outline.flat()) {
    box.left = Math.min(box.left, x);
    box.right = Math.max(box.right, x);
    box.top = Math.min(box.top, y);
    box.bottom = Math.max(box.bottom, y);
  }
  return box;
}

export function inside(outline, [x, y]) {
  return outline.some((ring) => {
    let within = false;
    for (let i = 0, j = ring.length - 1; i < ring.length; j = i++) {
      const [ax, ay] = ring[i], [bx, by] = ring[j];
      if ((ay > y) !== (by > y) && x < ((bx - ax) * (y - ay)) / (by - ay) + ax) within = !within;
    }
    return within;
  });
}
