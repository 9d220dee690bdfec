// The workbench under test: the real program, or the stand-in server where HOLDLINE_BIN is not set.
import { spawn } from 'node:child_process';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { chromium } from 'playwright-core';

const BROWSER = process.env.HOLDLINE_CHROMIUM ?? '/usr/bin/chromium';
const FLAGS = [
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
  '--use-angle=swiftshader',
  '--enable-unsafe-swiftshader',
];

export const BIN = process.env.HOLDLINE_BIN ?? null;
export const LAPTOP = { viewport: { width: 1366, height: 768 } };
export const TABLET = { viewport: { width: 1024, height: 768 }, hasTouch: true };
export const repo = (path) => fileURLToPath(new URL(`../../../../${path}`, import.meta.url));

/** Starts the server; gives its address with the token, a folder for jobs, and what ends both. */
export async function open_bench() {
  const folder = await mkdtemp(join(tmpdir(), 'holdline-bench-'));
  const [program, args] = BIN
    ? [BIN, ['serve', '--port', '0', '--no-open']]
    : [process.execPath, [fileURLToPath(new URL('../mock/server.mjs', import.meta.url)), '0']];
  const server = spawn(program, args, { cwd: folder, stdio: ['ignore', 'pipe', 'inherit'] });
  const address = await new Promise((resolve, reject) => {
    let said = '';
    server.stdout.on('data', (part) => {
      said += part;
      const found = /(http:\/\/\S+#token=\S+)/.exec(said);
      if (found) resolve(found[1]);
    });
    server.on('exit', (code) => reject(new Error(`the server ended with ${code}: ${said}`)));
    setTimeout(() => reject(new Error(`the server gave no address: ${said}`)), 20_000).unref();
  });
  const browser = await chromium.launch({
    executablePath: BROWSER,
    args: process.getuid?.() === 0 ? ['--no-sandbox', ...FLAGS] : FLAGS,
  });
  return {
    address,
    folder,
    /** A fresh page on the workbench; `wrong` collects what the browser complained about. */
    async page(options) {
      const context = await browser.newContext({ ...options, acceptDownloads: true });
      const page = await context.newPage();
      page.setDefaultTimeout(15_000);
      const wrong = [];
      page.on('pageerror', (e) => wrong.push(e.message));
      page.on('console', (m) => {
        if (m.type() === 'error' && !/Failed to load resource/.test(m.text())) wrong.push(m.text());
      });
      await page.goto(address);
      await page.getByRole('tab', { name: /^Job/ }).waitFor();
      return { page, wrong, close: () => context.close() };
    },
    async close() {
      await browser.close();
      server.kill();
      await rm(folder, { recursive: true, force: true });
    },
  };
}

/** Goes to a step by its tab. */
export async function step(page, name) {
  await page.getByRole('tab', { name: new RegExp(`^${name}`) }).click();
}

/** Makes the demo job in a fresh page and waits until its documents are listed. */
export async function demo_job(page) {
  await close_job(page);
  await page.getByRole('button', { name: 'Make demo job' }).click();
  await page
    .getByRole('cell', { name: /machine\.toml/ })
    .first()
    .waitFor({ timeout: 60_000 });
}

export async function close_job(page) {
  await step(page, 'Job');
  const close = page.getByRole('button', { name: 'Close job' });
  const path = page.getByLabel('Path of the job file');
  await close.or(path).first().waitFor();
  if (await close.isVisible()) await close.click();
  await path.waitFor();
}
