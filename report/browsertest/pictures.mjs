// Takes the pictures in docs from a report.
//
// usage: node pictures.mjs BROWSER REPORT.html DIR
import { chromium } from 'playwright-core';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';

const [browserPath, report, dir] = process.argv.slice(2);
const profile = mkdtempSync(join(tmpdir(), 'pictures-'));
const flags = ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'];
const browser = await chromium.launchPersistentContext(profile, { executablePath: browserPath, headless: true, offline: true, args: flags, viewport: { width: 1180, height: 900 } });
const page = await browser.newPage();
await page.goto('file://' + resolve(report));

// the answer
await page.waitForTimeout(300);
await page.screenshot({ path: join(dir, 'report-top.png'), clip: { x: 0, y: 0, width: 1180, height: 900 } });

// the strip of the last ride, at the dearest place
const ride = await page.evaluate(() => [...document.querySelectorAll('article.ride')].pop().id);
const link = page.locator(`#${ride} a.to-place`).first();
if (await link.count()) await link.click(); else await page.locator(`#${ride}-strip`).scrollIntoViewIfNeeded();
await page.waitForTimeout(1500);
await page.locator(`#${ride}-strip .body`).screenshot({ path: join(dir, 'report-strip.png') });

// the map of the motor
const motor = page.locator(`[data-chart="${ride}-motor-map"]`);
await motor.scrollIntoViewIfNeeded();
await page.waitForTimeout(700);
await page.locator(`figure:has([data-chart="${ride}-motor-map"])`).screenshot({ path: join(dir, 'motor-map.png') });

await browser.close();
rmSync(profile, { recursive: true, force: true });
