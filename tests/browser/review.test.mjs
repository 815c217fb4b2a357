// The real page in a real browser: everything a person can do there, what is on the disk afterwards, and what must not
// happen. Run by ctest (browser/review), or: LOTWEAR_PROGRAM=... LOTWEAR_RENDER=... node --test tests/browser
import assert from 'node:assert/strict';
import {after, before, test} from 'node:test';
import {assessAgain, chosen, copySurvey, join, makeLarge, makeSurvey, marking, open, photoShown, pictures, readSurvey, runProgram, serve, settled, tidyUp} from './support.mjs';

before(makeSurvey);
after(tidyUp);

/// One test: a copy of the survey, the program, a page; nothing may go wrong in the page meanwhile.
function story(name, work, change) {
  test(name, {timeout: 60000}, async () => {
    const folder = copySurvey(change);
    const server = await serve(folder);
    const page = await open(server.address);
    await work({folder, server, page});
    assert.deepEqual(page.trouble, []);
    await page.context().close();
    if (server.child.exitCode === null && server.child.signalCode === null) await server.kill();
  });
}
/// The first corner's place on the screen; its handle is drawn anew with every frame.
const cornerOf = async (page) => {
  await page.waitForSelector('.corner', {state: 'attached'});
  return page.evaluate(() => {
    const box = document.querySelector('.corner').getBoundingClientRect();
    return [box.x + box.width / 2, box.y + box.height / 2];
  });
};
const says = (page, words) => page.waitForFunction((source) => new RegExp(source).test(document.getElementById('live').innerText), words.source);

story('the walk goes in order of doubt, then priority, by keys alone', async ({page, folder}) => {
  const byId = new Map(readSurvey(folder).markings.map((m) => [m.id, m]));
  const ids = await page.locator('#list b').allInnerTexts();
  assert.equal(ids.length, byId.size);
  const doubt = (id) => (byId.get(id).needs_review ? 2 : byId.get(id).kind_confidence < 0.7 ? 1 : 0);
  for (let i = 1; i < ids.length; ++i) {
    assert.ok(doubt(ids[i - 1]) >= doubt(ids[i]));
    if (doubt(ids[i - 1]) === doubt(ids[i])) assert.ok(byId.get(ids[i - 1]).priority >= byId.get(ids[i]).priority);
  }
  assert.equal(await chosen(page), ids[0]);
  await page.keyboard.press('n');
  assert.equal(await chosen(page), ids[1]);
  await page.keyboard.press('p');
  assert.equal(await chosen(page), ids[0]);
  await page.keyboard.press('c');
  await settled(page);
  assert.equal(marking(folder, ids[0]).person.confirmed, true);
  await page.waitForFunction((id) => document.querySelector('#list [aria-current] b').innerText === id, ids[1]);
  assert.equal(await page.locator('#stripe').getAttribute('aria-valuenow'), '1');
  assert.match(await page.locator('#progress-words').innerText(), new RegExp(`1 of ${ids.length} confirmed`));
});

story('action, kind and colour: the person wins, the measurement stays beside', async ({page, folder}) => {
  const id = await chosen(page), measured = marking(folder, id);
  await page.keyboard.press('3');
  await settled(page);
  assert.equal(marking(folder, id).person.action, 'grind-and-repaint');
  assert.equal(marking(folder, id).action, 'grind-and-repaint');
  assert.match(await page.locator('.verdict').innerText(), /You decided\. Measured alone/);
  await page.keyboard.press('1');
  await settled(page);
  assert.equal(marking(folder, id).action, 'no-action');
  await page.keyboard.press('0');
  await settled(page);
  assert.equal(marking(folder, id).action, measured.action);
  assert.equal(marking(folder, id).person, null);
  await page.locator('#kind').selectOption('legend');
  await page.locator('#colour').selectOption('blue');
  await settled(page);
  const said = marking(folder, id);
  assert.deepEqual([said.person.kind, said.person.colour, said.kind, said.colour], ['legend', 'blue', measured.kind, measured.colour]);
  assert.match(await page.locator('#kind-beside').innerText(), /measured/);
  await page.getByRole('button', {name: 'Take your word on the kind back'}).click();
  await settled(page);
  assert.equal(marking(folder, id).person.kind, undefined);
});

story('what only a person knows changes decision and reasons at once', async ({page, folder}) => {
  const id = await chosen(page);
  await page.locator('#adhesion').selectOption('1');
  await settled(page);
  assert.equal(marking(folder, id).action, 'grind-and-repaint');
  assert.match(await page.locator('.reasons').innerText(), /tape pull took off 35 to 65 %/);
  await page.locator('#adhesion').selectOption('5');
  await page.locator('#below').selectOption('yes');
  await settled(page);
  assert.match(await page.locator('.reasons').innerText(), /paint below was recorded/);
  await page.locator('#below').selectOption('');
  await page.locator('#build-up').fill('1.6');
  await page.locator('#build-up').blur();
  await page.locator('#sound').selectOption('no');
  await settled(page);
  assert.match(await page.locator('.reasons').innerText(), /1\.6 mm \(63 mil\)/);
  await page.locator('#coats').fill('4');
  await page.locator('#note').fill('came off in sheets\nnear the drain');
  await page.locator('#note').blur();
  await settled(page);
  assert.deepEqual(marking(folder, id).person, {adhesion: 5, build_up_mm: 1.6, build_up_sound: false, coats: 4, note: 'came off in sheets\nnear the drain'});
});

story('a note is saved without leaving the field', async ({page, folder}) => {
  const id = await chosen(page);
  await page.keyboard.press('w');
  await page.keyboard.type('half a sentence');
  await page.waitForTimeout(1700);
  await settled(page);
  assert.equal(marking(folder, id).person.note, 'half a sentence');
  assert.equal(await page.evaluate(() => document.activeElement.id), 'note');
});

story('a corner dragged in the photo is measured again; undo and redo', async ({page, folder}) => {
  const id = await chosen(page), before = marking(folder, id);
  await photoShown(page);
  await page.keyboard.press('e');
  const [x, y] = await cornerOf(page);
  await page.mouse.move(x, y);
  await page.mouse.down();
  await page.mouse.move(x - 20, y - 15, {steps: 4});
  await page.mouse.up();
  await settled(page);
  let now = marking(folder, id);
  assert.equal(now.person.outline[0].length, before.outline[0].length);
  assert.notDeepEqual(now.person.outline[0][0], before.outline[0][0]);
  assert.deepEqual(now.paint, before.paint, 'what was measured stays');
  assert.notDeepEqual(now.person.measured.paint, before.paint);
  await says(page, /Measured again/);
  assert.match(await page.locator('#views img').first().getAttribute('src'), /-r1-plan/);
  await page.locator('#undo').click();
  await settled(page);
  assert.equal(marking(folder, id).person, null);
  await page.keyboard.press('Escape');
  await page.keyboard.press('Shift+Z');
  await settled(page);
  assert.deepEqual(marking(folder, id).person.outline, now.person.outline);
  await page.keyboard.press('Control+z');
  await settled(page);
  assert.equal(marking(folder, id).person, null);
});

story('corners and rings by keys alone', async ({page, folder}) => {
  const id = await chosen(page), before = marking(folder, id), corners = before.outline[0].length;
  await photoShown(page);
  await page.keyboard.press('e');
  await page.keyboard.press(']');
  await says(page, /corner 2 of/);
  const [x] = before.outline[0][1], by = x > 20 ? -10 : 10;  // a corner stays in the photo
  await page.keyboard.press(by < 0 ? 'Shift+ArrowLeft' : 'Shift+ArrowRight');
  await page.keyboard.press('i');
  await page.waitForTimeout(600);
  await settled(page);
  let rings = marking(folder, id).person.outline;
  assert.equal(rings[0].length, corners + 1);
  assert.equal(rings[0][1][0], Math.round(10 * (x + by)) / 10);
  await page.keyboard.press('Delete');
  await page.waitForTimeout(600);
  await settled(page);
  assert.equal(marking(folder, id).person.outline[0].length, corners);
  await page.keyboard.press('y');
  for (const key of ['Space', 'ArrowRight', 'Space', 'ArrowDown', 'Space']) {
    if (key.startsWith('Arrow')) for (let i = 0; i < 3; ++i) await page.keyboard.press(`Shift+${key}`);
    else await page.keyboard.press(key);
  }
  await page.keyboard.press('Enter');
  await settled(page);
  assert.equal(marking(folder, id).person.outline.length, before.outline.length + 1);
  await page.keyboard.press('Shift+Y');
  await page.waitForTimeout(600);
  await settled(page);
  assert.equal(marking(folder, id).person.outline.length, before.outline.length);
  await page.locator('#outline-found').click();
  await settled(page);
  assert.equal(marking(folder, id).person, null);
});

story('a missed marking is drawn from scratch, by hand and by keys', async ({page, folder}) => {
  const count = readSurvey(folder).markings.length;
  await photoShown(page);
  await page.keyboard.press('h');
  await page.keyboard.press('d');
  await page.locator('#draw-kind').selectOption('stop-line');
  const box = await page.locator('#photo').boundingBox();
  const point = (fx, fy) => [box.x + box.width * fx, box.y + box.height * fy];
  for (const p of [point(0.4, 0.7), point(0.6, 0.7), point(0.6, 0.75), point(0.4, 0.75)]) await page.mouse.click(...p);
  await page.mouse.click(...point(0.4, 0.7));
  await settled(page);
  let survey = readSurvey(folder);
  assert.equal(survey.markings.length, count + 1);
  const added = survey.markings.at(-1);
  assert.deepEqual([added.person.added, added.person.kind, added.person.outline[0].length], [true, 'stop-line', 4]);
  assert.ok(added.size.area_m2 > 0);
  assert.equal(await chosen(page), added.id);
  await page.keyboard.press('Escape');
  await page.keyboard.press('z');
  await settled(page);
  assert.equal(readSurvey(folder).markings.length, count);
  await page.keyboard.press('d');
  await page.keyboard.press('Space');
  for (let i = 0; i < 4; ++i) await page.keyboard.press('Shift+ArrowLeft');
  await page.keyboard.press('Space');
  for (let i = 0; i < 2; ++i) await page.keyboard.press('Shift+ArrowDown');
  await page.keyboard.press('Space');
  await page.keyboard.press('Enter');
  await settled(page);
  assert.equal(readSurvey(folder).markings.length, count + 1);
});

story('a template is placed by two clicks, and its corners can be dragged', async ({page, folder}) => {
  const count = readSurvey(folder).markings.length;
  await photoShown(page);
  await page.keyboard.press('h');
  await page.locator('#template').selectOption('arrow-straight');
  assert.match(await page.locator('#hint').innerText(), /foot, then the tip/);
  const box = await page.locator('#photo').boundingBox();
  await page.mouse.click(box.x + box.width * 0.5, box.y + box.height * 0.85);
  await page.mouse.click(box.x + box.width * 0.5, box.y + box.height * 0.6);
  await settled(page);
  const added = readSurvey(folder).markings.at(-1);
  assert.equal(readSurvey(folder).markings.length, count + 1);
  assert.equal(added.person.kind, 'arrow-straight');
  const [x, y] = await cornerOf(page);
  await page.mouse.move(x, y);
  await page.mouse.down();
  await page.mouse.move(x + 9, y + 9, {steps: 3});
  await page.mouse.up();
  await settled(page);
  assert.notDeepEqual(readSurvey(folder).markings.at(-1).person.outline, added.person.outline);
});

story('a false alarm is struck out, counts nowhere, and can come back', async ({page, folder}) => {
  const id = await chosen(page), count = readSurvey(folder).markings.length;
  await page.keyboard.press('x');
  await settled(page);
  assert.equal(marking(folder, id).person.false_alarm, true);
  assert.match(await page.locator('#progress-words').innerText(), new RegExp(`of ${count - 1} confirmed, 1 struck out`));
  await page.locator('#filter').selectOption('false');
  assert.deepEqual(await page.locator('#list b').allInnerTexts(), [id]);
  await page.locator('#false-alarm').click();
  await settled(page);
  assert.equal(marking(folder, id).person, null);
});

story('two views of one marking are joined, and parted again', async ({page, folder}) => {
  const id = await chosen(page);
  await page.keyboard.press('m');
  const other = await page.locator('#same .candidates b').first().innerText();
  await page.locator('#same .candidates button').first().click();
  await settled(page);
  assert.equal(marking(folder, id).person.same_as, other);
  assert.match(await page.locator('.again').innerText(), new RegExp(`same paint as ${other}`));
  await page.locator('.again button.small').click();
  await settled(page);
  assert.equal(marking(folder, id).person, null);
});

story('filters, ranks and the site plan', async ({page, folder}) => {
  const survey = readSurvey(folder);
  await page.locator('#rank').selectOption('worn');
  const left = (await page.locator('#list b').allInnerTexts()).map((id) => survey.markings.find((m) => m.id === id).paint.remaining_percent);
  assert.deepEqual(left, [...left].sort((a, b) => a - b));
  for (const action of ['grind-and-repaint', 'repaint', 'no-action']) {
    await page.locator('#filter').selectOption(action);
    assert.equal(await page.locator('#list li').count(), survey.markings.filter((m) => m.action === action).length);
  }
  await page.locator('#filter').selectOption('open');
  await page.keyboard.press('s');
  await page.waitForSelector('#site-plan .spot');
  assert.equal(await page.locator('#site-plan .spot').count(), survey.photos.length);
  await page.screenshot({path: join(pictures, 'site-plan.png')});
  const last = page.locator('#site-plan .spot').last();
  assert.match(await last.getAttribute('aria-label'), /to check/);
  await last.focus();
  await page.keyboard.press('Enter');
  const here = survey.markings.find((m) => m.id === '' || m.photo === survey.photos.at(-1).file);
  if (here) await page.waitForFunction((file) => document.getElementById('photo-name').innerText.startsWith(file), survey.photos.at(-1).file);
});

story('two tabs cannot overwrite each other silently', async ({page, folder, server}) => {
  const id = await chosen(page);
  const second = await open(server.address);
  // the other tab does not hear of the change before it makes its own
  await second.route('**/api/here', (route) => route.abort());
  await page.keyboard.press('2');
  await settled(page);
  const count = readSurvey(folder).revision;
  await second.locator('#adhesion').selectOption('0').catch(() => {});
  await second.waitForFunction(() => /another tab|not running/.test(document.getElementById('notice').innerText));
  assert.equal(readSurvey(folder).revision, count, 'the second one was not made');
  await second.context().close();
  const third = await open(server.address);
  await page.bringToFront();
  await page.keyboard.press('3');
  await settled(page);
  await third.waitForFunction(() => /another tab/.test(document.getElementById('notice').innerText));
  assert.equal(await third.locator('#action-grind-and-repaint').isChecked(), true, 'the idle one shows the present state');
  assert.deepEqual(third.trouble, []);
  assert.equal(marking(folder, id).person.action, 'grind-and-repaint');
});

test('a kill in the middle of saving loses nothing that was answered', {timeout: 90000}, async () => {
  const folder = copySurvey();
  let answered = 0, revision = 0;
  for (let round = 0; round < 12; ++round) {
    const server = await serve(folder);
    const {origin} = new URL(server.address), token = new URL(server.address).searchParams.get('key');
    const headers = {'Cookie': `lotwear-${new URL(origin).port}=${token}`, 'Origin': origin, 'X-Lotwear-Token': token, 'Content-Type': 'application/json'};
    const found = (await (await fetch(`${origin}/api/state`, {headers})).json()).revision;
    assert.ok(found === revision || found === revision + 1, `${found} after ${revision} were answered`);
    revision = found;
    const dies = new Promise((resolve) => setTimeout(resolve, 60 + 23 * round)).then(() => server.kill('SIGKILL'));
    for (;;) {
      const body = JSON.stringify({is: 'say', revision, id: 'M001', fields: {note: `note ${revision + 1}`}});
      const answer = await fetch(`${origin}/api/change`, {method: 'POST', headers, body}).then((one) => one.json(), () => null);
      if (!answer) break;
      revision = answer.revision;
      ++answered;
    }
    await dies;
    assert.ok((readSurvey(folder).revision ?? 0) <= revision + 1, 'survey.json is whole at any moment');
  }
  assert.ok(answered > 12, `${answered} changes were answered`);
  const server = await serve(folder);
  const page = await open(server.address), kept = readSurvey(folder).revision;
  assert.ok(kept === revision || kept === revision + 1);
  assert.equal(marking(folder, 'M001').person.note, `note ${kept}`);
  await server.kill('SIGKILL');
  await page.keyboard.press('2');
  await page.waitForFunction(() => /not running any more/.test(document.getElementById('notice').innerText));
  await page.context().close();
});

story('300 markings are walked without waiting', async ({page}) => {
  assert.equal(await page.locator('#list li').count(), 300);
  const start_ = await chosen(page), ids = await page.locator('#list b').allInnerTexts();
  const walked = await page.evaluate(async () => {
    const times = [];
    for (let i = 0; i < 40; ++i) {
      const start = performance.now();
      document.body.dispatchEvent(new KeyboardEvent('keydown', {key: 'n', bubbles: true}));
      document.body.offsetHeight;
      times.push(performance.now() - start);
      await new Promise(requestAnimationFrame);
    }
    return times.sort((a, b) => a - b);
  });
  console.log(`300 markings: a step takes ${walked[20].toFixed(0)} ms, at worst ${walked[39].toFixed(0)} ms`);
  assert.equal(await chosen(page), ids[ids.indexOf(start_) + 40]);
  assert.ok(walked[20] < 100, `${walked[20]} ms`);
  const start = Date.now();
  await page.keyboard.press('2');
  await settled(page);
  console.log(`300 markings: a change is saved and shown after ${Date.now() - start} ms`);
  assert.ok(Date.now() - start < 3000);
  await page.keyboard.press('z');
  await settled(page);
}, (survey) => {
  const some = survey.markings;
  survey.markings = Array.from({length: 300}, (_, i) => ({...some[i % some.length], id: `M${String(i + 1).padStart(3, '0')}`}));
  return survey;
});

test('zoom and pan are smooth on 12 megapixels', {timeout: 60000}, async () => {
  const server = await serve(makeLarge());
  const page = await open(server.address);
  await photoShown(page);
  const times = await page.evaluate(async () => {
    const holder = document.getElementById('photo'), at = holder.getBoundingClientRect(), frames = [];
    const x = at.left + at.width / 2, y = at.top + at.height / 2;
    for (let i = 0; i < 60; ++i) {
      const start = performance.now();
      holder.dispatchEvent(new WheelEvent('wheel', {deltaY: i < 30 ? -90 : 90, clientX: x + i, clientY: y, bubbles: true, cancelable: true}));
      await new Promise((resolve) => requestAnimationFrame(() => requestAnimationFrame(resolve)));
      frames.push((performance.now() - start) / 2);
    }
    return frames.sort((a, b) => a - b);
  });
  console.log(`12 MP: a frame of zooming takes ${times[30].toFixed(0)} ms, nine of ten under ${times[54].toFixed(0)} ms (no graphics card)`);
  assert.ok(times[30] < 50, `${times[30]} ms a frame`);
  await page.context().close();
  await server.kill();
});

story('hostile names and notes stay text', async ({page, folder}) => {
  const bad = '<img src=x onerror="window.taken=1">';
  await page.locator('#note').fill(bad);
  await page.locator('#note').blur();
  await settled(page);
  await page.keyboard.press('s');
  await page.waitForSelector('#site-plan .site');
  await page.locator('#site-plan summary').click();
  assert.match(await page.locator('#site-plan .photos').innerText(), /onerror/);
  await page.keyboard.press('Escape');
  assert.equal(await page.evaluate(() => window.taken), undefined);
  assert.equal(await page.locator('img[src="x"]').count(), 0);
  assert.equal(readSurvey(folder).markings.some((m) => m.person?.note === bad), true);
  assert.match(await page.locator('#photo-trouble').innerText(), /was not found/);
}, (survey) => {
  const name = '<img src=x onerror="window.taken=1">.jpg';
  for (const photo of survey.photos) photo.file = name + photo.file;
  for (const m of survey.markings) m.photo = name + m.photo;
  survey.site.name = '<script>window.taken=1</script>';
  survey.markings[0].reasons = ['<svg onload="window.taken=1">'];
  return survey;
});

story('keyboard and screen reader alone: names, roles, live words', async ({page, folder}) => {
  const nameless = await page.evaluate(() => [...document.querySelectorAll('button, select, input, textarea, [role], img')].filter((one) => {
    if (one.closest('[aria-hidden]') || one.getAttribute('role') === 'status' || one.getAttribute('role') === 'alert') return false;
    const label = one.getAttribute('aria-label') ?? one.getAttribute('aria-describedby') ?? one.getAttribute('alt') ?? one.innerText ?? '';
    return !label.trim() && !one.labels?.length && !one.closest('label');
  }).map((one) => one.outerHTML.slice(0, 90)));
  assert.deepEqual(nameless, []);
  const tree = await page.locator('body').ariaSnapshot();
  for (const wanted of ['progressbar "Markings confirmed"', 'button "Confirm"', 'combobox "Kind"', 'combobox "Tape pull"', 'textbox "Note"', 'radio "Repaint', 'group "What to do"', 'toolbar'])
    assert.ok(tree.includes(wanted), `${wanted} in\n${tree.slice(0, 3000)}`);
  // from the top of the page with Tab to the decision, and a confirmation, without a mouse
  const id = await chosen(page);
  await page.keyboard.press('Tab');
  assert.equal(await page.evaluate(() => document.activeElement.className), 'skip');
  await page.keyboard.press('Enter');
  await page.keyboard.press('Tab');
  assert.equal(await page.evaluate(() => document.activeElement.id), 'confirm');
  await page.keyboard.press('Enter');
  await settled(page);
  assert.equal(marking(folder, id).person.confirmed, true);
  await page.waitForFunction(() => document.getElementById('live').innerText.length > 3);
  await page.keyboard.press('?');
  assert.equal(await page.locator('#help').isVisible(), true);
  await page.keyboard.press('Escape');
  assert.equal(await page.locator('#help').isVisible(), false);
});

story('it ends with the page, and says so when it is gone', async ({page, server, folder}) => {
  await page.keyboard.press('c');
  await settled(page);
  await page.locator('#done').click();
  await page.waitForSelector('text=The review has ended');
  const {code, said} = await server.ended;
  assert.equal(code, 0);
  assert.match(said, /1 of \d+ markings are confirmed/);
  const again = await serve(folder);
  const closing = await open(again.address);
  await closing.close();
  const waited = Date.now();
  assert.equal((await again.ended).code, 0);
  assert.ok(Date.now() - waited < 15000);
  const third = await serve(folder);
  const left = await open(third.address);
  assert.equal((await third.kill('SIGINT')).code, 0);
  await left.waitForFunction(() => /not running any more/.test(document.getElementById('notice').innerText));
});

story('assess again, estimate and report follow what was said', async ({page, folder, server}) => {
  const id = await chosen(page);
  await page.keyboard.press('3');
  await page.locator('#note').fill('keeps');
  await page.locator('#note').blur();
  await page.locator('#confirm').click();
  await settled(page);
  await page.locator('#done').click();
  await server.ended;
  const said = marking(folder, id).person;
  assessAgain(folder);
  assert.deepEqual(marking(folder, id).person, said);
  runProgram('report', folder, '--date', '2026-04-11');
  assert.match(runProgram('estimate', folder), new RegExp(`Confirmed by a person: ${id}`));
  const html = (await import('node:fs')).readFileSync(join(folder, 'report.html'), 'utf8');
  assert.match(html, new RegExp(`A person has confirmed ${id}`));
});

test('it is fit to be seen: light, dark, phone', {timeout: 60000}, async () => {
  const folder = copySurvey();
  const server = await serve(folder);
  for (const [name, settings] of [['light', {}], ['dark', {colorScheme: 'dark'}], ['phone', {viewport: {width: 390, height: 844}, deviceScaleFactor: 2, hasTouch: true, isMobile: true}]]) {
    const page = await open(server.address, settings);
    await photoShown(page);
    await page.waitForTimeout(300);
    await page.screenshot({path: join(pictures, `${name}.png`)});
    const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
    assert.ok(wide <= 0, `${name}: ${wide} px too wide`);
    if (name !== 'phone') {
      await page.keyboard.press('e');
      await page.waitForTimeout(200);
      await page.screenshot({path: join(pictures, `${name}-outline.png`)});
      await page.keyboard.press('Escape');
      await page.keyboard.press('?');
      await page.screenshot({path: join(pictures, `${name}-keys.png`)});
    } else {
      const small = await page.evaluate(() => [...document.querySelectorAll('button, select')].filter((one) => one.offsetParent && one.offsetHeight < 38).map((one) => `${one.id || one.innerText} ${one.offsetHeight}`));
      assert.deepEqual(small, [], 'fingers need room');
      await page.locator('#verdict').scrollIntoViewIfNeeded();
      await page.evaluate(() => scrollTo(0, document.getElementById('verdict').offsetTop));
      await page.screenshot({path: join(pictures, 'phone-decision.png')});
      await page.locator('#confirm').tap();
      await settled(page);
    }
    assert.deepEqual(page.trouble, []);
    await page.context().close();
  }
  await server.kill();
});

test('a finger pans and two fingers zoom', {timeout: 60000}, async () => {
  const folder = copySurvey();
  const server = await serve(folder);
  const page = await open(server.address, {viewport: {width: 390, height: 844}, hasTouch: true, isMobile: true});
  await photoShown(page);
  const scale = () => page.evaluate(() => Number(document.querySelector('#overlay g').getAttribute('transform').match(/scale\(([\d.e-]+)/)[1]));
  const before = await scale();
  const box = await page.locator('#photo').boundingBox(), x = box.x + box.width / 2, y = box.y + box.height / 2;
  const touch = (await page.context().newCDPSession(page));
  const fingers = (apart) => [{x: x - apart, y, id: 1}, {x: x + apart, y, id: 2}];
  await touch.send('Input.dispatchTouchEvent', {type: 'touchStart', touchPoints: fingers(30)});
  for (const apart of [40, 55, 70, 90]) await touch.send('Input.dispatchTouchEvent', {type: 'touchMove', touchPoints: fingers(apart)});
  await touch.send('Input.dispatchTouchEvent', {type: 'touchEnd', touchPoints: []});
  await page.waitForTimeout(200);
  const after_ = await scale();
  assert.ok(after_ > 1.8 * before, `${before} to ${after_}`);
  await page.context().close();
  await server.kill();
});
