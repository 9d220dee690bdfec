// The adjustment in a browser: solve, accept, next poses, hand over, what drifted, what can be held.
import assert from 'node:assert/strict';
import { after, before, describe, test } from 'node:test';
import { BIN, demo_job, LAPTOP, open_bench, step, TABLET } from './bench.mjs';

let bench;
before(async () => {
  bench = await open_bench();
});
after(async () => {
  await bench?.close();
});

const decision = (page) => page.getByRole('region', { name: 'Decision' });

/** Fills a field of the budget and goes on. */
async function known(page, label, value) {
  await page.getByLabel(label, { exact: true }).fill(value);
}

for (const [size, options] of [
  ['1366×768', LAPTOP],
  ['1024×768 touch', TABLET],
]) {
  describe(`calibrated and proved at ${size}`, () => {
    let page;
    let wrong;
    let close;
    before(async () => {
      ({ page, wrong, close } = await bench.page(options));
      await demo_job(page);
    });
    after(() => close?.());

    test('nothing is solved before somebody says what and who', async () => {
      await step(page, 'Calibrate');
      assert.ok(await page.locator('button.first', { hasText: 'Solve' }).isDisabled());
      await page.getByText(/^Tick at least one file/).waitFor();
    });

    test('a fit names what was set aside and how sure the figures are', async () => {
      const files = page.getByRole('group', { name: 'Observations' });
      await files.getByRole('checkbox', { name: /day.*observations/ }).check();
      await page.getByLabel('Who measured').fill('A. Example');
      await known(page, 'Receiver, each of E and N, m', '0.006');
      await known(page, 'Receiver, height, m', '0.009');
      await known(page, 'Heading: ± (1 sd), degrees', '0.1');
      await page.locator('button.first', { hasText: 'Solve' }).click();
      await decision(page).waitFor();
      await page.getByRole('region', { name: 'Set aside' }).waitFor();
      const figures = page.getByRole('table', { name: /^Figures before and now/ });
      assert.match(await figures.innerText(), /±/);
      await page.getByRole('img', { name: 'Residuals of the observations' }).waitFor();
    });

    test('what was changed after the fit cannot be accepted', async () => {
      await page.getByLabel('Your name').fill('A. Example');
      await page.getByLabel('Instruments').fill('total station');
      await page.getByText(/^Something was changed since/).waitFor();
      assert.ok(await page.getByRole('button', { name: 'Record calibration' }).isDisabled());
      await page.locator('button.first', { hasText: 'Solve' }).click();
      await page.getByText(/^Something was changed since/).waitFor({ state: 'detached' });
    });

    test('accepted, it is a record and in hand on every step', async () => {
      await page.getByRole('button', { name: 'Record calibration' }).click();
      await page.getByText(/^Record \d+ made/).waitFor();
      await page.locator('[aria-label^="Sheet of record"]').first().waitFor();
      await step(page, 'Prove the tooth');
      const chosen = page.getByLabel('Calibration on top of the sheet');
      assert.notEqual(await chosen.inputValue(), '');
    });

    test('the next poses are a list that a person can do', async () => {
      await step(page, 'Calibrate');
      await page.getByRole('button', { name: 'Next poses' }).click();
      // Before anything is measured: all there is to know is still to be learnt.
      const used = page.getByRole('group', { name: 'Observations', exact: true });
      for (const box of await used.getByRole('checkbox').all()) await box.uncheck();
      await page.getByLabel('How many poses').fill('3');
      await page.getByLabel(/^Each shot will be good/).fill('0.003');
      await page.getByRole('button', { name: 'Find next poses' }).click();
      const list = page.getByRole('region', { name: /^Measure these/ });
      await list.waitFor({ timeout: 60_000 });
      assert.ok((await list.getByRole('listitem').count()) >= 1);
    });

    test('the numbers to key in come with their proof at three poses', async () => {
      await page.getByRole('button', { name: 'Hand over' }).click();
      await page.getByLabel('The tooth may differ by at most, m').fill('0.005');
      await page.getByRole('button', { name: 'Show the numbers' }).click();
      const proof = page.getByRole('table', { name: /^Read back at three poses/ });
      await proof.waitFor();
      if (BIN) assert.equal(await proof.getByRole('row').count(), 4);
    });

    test('an observation is typed and taken in, or its faults name the line', async () => {
      await page.locator('.ways button', { hasText: 'Solve' }).click();
      await page.getByText('Type observations').click();
      await page.getByLabel('Kind').selectOption('tape');
      await page.getByRole('button', { name: 'Add', exact: true }).click();
      const one = page.getByRole('group', { name: 'Observation 1', exact: true });
      await one.getByLabel('Point', { exact: true }).fill('pin A');
      await one.getByLabel('To point').fill('pin Q');
      await one.getByLabel('Length, m').fill('5.721');
      await one.getByLabel('± (1 sd), m').fill('0.003');
      if (BIN) {
        await page.getByRole('button', { name: 'Take these observations in' }).click();
        const alert = page.getByRole('alert');
        await alert.waitFor();
        assert.match(await alert.innerText(), /line \d+, column \d+/);
      }
      await one.getByLabel('To point').fill('pin B');
      await page.getByRole('button', { name: 'Take these observations in' }).click();
      const files = page.getByRole('group', { name: 'Observations', exact: true });
      assert.ok(await files.getByRole('checkbox', { name: /typed\.observations/ }).isChecked());
    });

    test('the budget says what is unknown, and follows the pose', async () => {
      await step(page, 'Budget');
      await page.getByRole('button', { name: '3D, site grid' }).click();
      await page.getByRole('region', { name: /^Unknown, so nothing/ }).waitFor();
      await known(page, 'Receiver, each of E and N, m', '0.008');
      await known(page, 'Receiver, height, m', '0.015');
      await known(page, 'Localization, each of E and N, m', '0.005');
      await known(page, 'Localization, height, m', '0.008');
      await known(page, 'Heading: ± (1 sd), degrees', '0.1');
      await known(page, 'Play of each pin, ± at most, m', '0.001');
      await known(page, 'Deflection at full reach, m', '0.005');
      await known(page, 'Latency, s', '0.05');
      await known(page, 'Speed of the tooth, m/s', '0.2');
      await known(page, 'Too high by at most, m', '0.100');
      await known(page, 'Too low by at most, m', '0.100');
      if (BIN) {
        await page
          .getByRole('region', { name: /^Unknown, so nothing/ })
          .waitFor({ state: 'detached' });
        const figures = page.getByRole('region', { name: 'Figures' });
        const first = await figures.innerText();
        await page.getByRole('textbox', { name: 'Boom, degrees' }).fill('35');
        await page.waitForFunction(
          ([before]) =>
            document.querySelector('section.figures')?.textContent !== undefined &&
            document.querySelector('main').innerText.includes('±') &&
            !document.querySelector('main').innerText.includes(before.slice(0, 400)),
          [first],
        );
      }
    });

    test('the map is made, recorded and computed again', async () => {
      await page.getByRole('button', { name: 'Map the whole reach' }).click();
      await page
        .getByRole('button', { name: 'Over the reach', pressed: true })
        .waitFor({ timeout: 60_000 });
      await page.getByLabel('Your name').fill('A. Example');
      await page.getByRole('button', { name: 'Make record' }).click();
      await page.getByText(/^Record \d+ made/).waitFor({ timeout: 60_000 });
      await page.getByRole('button', { name: 'Compute again' }).click();
      await page.getByText(/the same/).waitFor({ timeout: 60_000 });
    });

    test('a knocked sensor is named, with the shot that would decide it', async () => {
      await step(page, 'Prove the tooth');
      if (BIN) {
        const shots = page.getByLabel('Document with the shots');
        const knocked = shots.locator('option', { hasText: 'knocked' });
        await shots.selectOption(await knocked.first().getAttribute('value'));
      }
      await page.getByLabel('Too high by at most, m').fill('0.030');
      await page.getByLabel('Too low by at most, m').fill('0.030');
      await page.getByLabel('Off in plan by at most, m').fill('0.050');
      const position = page.getByRole('group', { name: /^Antenna position/ });
      if (await position.isVisible()) {
        await position.getByLabel('± horizontal (1 sd), m').fill('0.004');
        await position.getByLabel('± vertical (1 sd), m').fill('0.006');
      }
      await page.getByRole('button', { name: 'Run check' }).click();
      const off = page.getByRole('region', { name: 'What may be off' });
      await off.waitFor({ timeout: 60_000 });
      assert.match(await off.innerText(), /idler|bucket/i);
      await off.getByRole('img', { name: 'Ranking' }).waitFor();
    });

    test('what the machine can do now is a table', async () => {
      await step(page, 'Measure up');
      await page.getByText('What this machine can do now').click();
      await page.getByRole('columnheader', { name: 'Missing for it' }).waitFor();
    });

    test('the browser complained about nothing', () => {
      assert.deepEqual(wrong, []);
    });
  });
}
