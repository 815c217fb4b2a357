// Many markings, large photos, hostile names, a keyboard or a finger alone; what comes before and after a review.
import assert from 'node:assert/strict';
import {existsSync, mkdirSync, readFileSync, writeFileSync} from 'node:fs';
import {test} from 'node:test';
import {assessAgain, chosen, copySurvey, join, makeLarge, marking, open, photoShown, pictures, readSurvey, runProgram, serve, settled, story} from './support.mjs';

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
  assert.ok(walked[20] < 250, `${walked[20]} ms`);  // 100 of them in one photo; on a machine that others use
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

test('it opens the browser with its address, unless told not to', {timeout: 60000}, async () => {
  const folder = copySurvey(), bin = join(folder, 'bin'), opened = join(folder, 'opened.txt');
  mkdirSync(bin);
  writeFileSync(join(bin, 'xdg-open'), `#!/bin/sh\nprintf %s "$1" > '${opened}'\n`, {mode: 0o755});
  const env = {...process.env, PATH: `${bin}:${process.env.PATH}`};
  const quiet = await serve(folder, {env});
  await quiet.kill();
  assert.equal(existsSync(opened), false);
  const loud = await serve(folder, {words: [], env});
  for (let i = 0; i < 100 && !existsSync(opened); ++i) await new Promise((resolve) => setTimeout(resolve, 50));
  await new Promise((resolve) => setTimeout(resolve, 100));
  assert.equal(readFileSync(opened, 'utf8'), loud.address);
  assert.match(loud.address, /^http:\/\/127\.0\.0\.1:/);
  await loud.kill();
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
  const html = readFileSync(join(folder, 'report.html'), 'utf8');
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
