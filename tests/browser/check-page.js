/* usage: node check-page.js PAGE CHROMIUM OUT
 *
 * Looks at the page of a report in a browser without a window, at the widths of a phone and of a desk, and on A4. Prints a
 * line for each check; leaves screenshots and the PDF in OUT. Exit status 1: something is wrong. */
'use strict';

const { execFileSync, spawnSync } = require('node:child_process');
const fs = require('node:fs');
const path = require('node:path');
const { pathToFileURL } = require('node:url');
const axe = require('axe-core');
const puppeteer = require('puppeteer-core');

const [page_path, chromium, out] = process.argv.slice(2);
const address = pathToFileURL(path.resolve(page_path)).href;
const widths = [360, 1280];
let passed = 0, failed = 0;

function say(name, faults) {
    console.log(`${faults.length ? 'FAILED  ' : 'ok      '}${name}`);
    for (const fault of faults.slice(0, 12)) console.log(`          ${fault}`);
    if (faults.length > 12) console.log(`          and ${faults.length - 12} more`);
    if (faults.length) failed++;
    else passed++;
}

/* Everything below runs in the page. */

function forbidden_elements() {
    const found = [...document.querySelectorAll('script, link, iframe, object, embed, img, base, form, foreignObject')];
    const faults = found.map(element => `<${element.localName}> in the page`);
    for (const element of document.querySelectorAll('*'))
        for (const attribute of element.attributes) {
            const fetched = ['href', 'src', 'srcset', 'xlink:href', 'action', 'data', 'poster', 'background'];
            if (attribute.name.startsWith('on') || (fetched.includes(attribute.name) && !attribute.value.startsWith('#')))
                faults.push(`${attribute.name}="${attribute.value}"`);
        }
    const ids = [...document.querySelectorAll('[id]')].map(element => element.id);
    ids.filter((id, i) => ids.indexOf(id) !== i).forEach(id => faults.push(`id ${id} twice`));
    return faults;
}

function layout_faults() {
    const faults = [], width = document.documentElement.clientWidth;
    const name = element => `<${element.localName}> ${(element.textContent || '').trim().slice(0, 50)}`;
    if (document.documentElement.scrollWidth > width)
        faults.push(`the page is ${document.documentElement.scrollWidth} px wide`);
    for (const element of document.querySelectorAll('h1, h2, h3, p, li, dt, dd, figcaption, .table, .plot, footer')) {
        const box = element.getBoundingClientRect();
        if (box.left < -0.5 || box.right > width + 0.5)
            faults.push(`${name(element)}: from ${box.left.toFixed(0)} to ${box.right.toFixed(0)} px`);
        const scrolls = ['auto', 'scroll'].includes(getComputedStyle(element).overflowX);
        if (element.scrollWidth > element.clientWidth + 1 && element.clientWidth > 0 && !scrolls)
            faults.push(`${name(element)}: its text overflows`);
        if (scrolls && element.tabIndex !== 0) faults.push(`${name(element)}: scrolls, but takes no focus`);
    }
    for (const element of document.querySelectorAll('table, svg')) {
        const box = element.getBoundingClientRect();
        if (!element.checkVisibility({ checkOpacity: true, checkVisibilityCSS: true }) || box.width < 50 || box.height < 20)
            faults.push(`${name(element)}: not to be seen`);
    }
    if (document.querySelectorAll('table').length === 0) faults.push('no table in the page');
    return faults;
}

/* Decimal points of a column stand under each other. */
function point_faults() {
    const faults = [];
    for (const table of document.querySelectorAll('table')) {
        const places = new Map();
        for (const cell of table.querySelectorAll('tbody td.number')) {
            const span = cell.querySelector('span'), whole = document.createRange();
            if (!cell.firstChild) continue;
            whole.selectNodeContents(cell.firstChild);
            const left = whole.getBoundingClientRect().right, first = places.get(cell.cellIndex);
            if (first === undefined) places.set(cell.cellIndex, left);
            else if (Math.abs(first - left) > 0.6)
                faults.push(`${table.caption.textContent}: ${cell.textContent} off by ${(left - first).toFixed(1)} px`);
            if (span && span.scrollWidth > span.clientWidth + 1) faults.push(`${cell.textContent}: wider than its room`);
        }
    }
    return faults;
}

/* Tiny words at the top and bottom of what a page break must not cut: they take no room, and the PDF tells on which page
 * each is. */
function put_marks() {
    const marks = [];
    const put = (element, word, style) => {
        const mark = document.createElement('span');
        mark.textContent = word;
        mark.style.cssText = `position:absolute;left:0;font:1px monospace;width:auto;color:#000;${style}`;
        element.style.position = 'relative';
        element.append(mark);
    };
    const both = (element, kind, name) => {
        const word = `Mark${marks.length}x`;
        put(element, `${word}top`, 'top:0');
        put(element, `${word}end`, 'bottom:0');
        marks.push({ kind, word, name: name.replace(/Mark\d+x(top|end)/g, '').trim().slice(0, 60) });
        return word;
    };
    for (const row of document.querySelectorAll('tbody tr')) both(row.cells[0], 'row', row.textContent);
    for (const figure of document.querySelectorAll('figure')) both(figure, 'plot', figure.textContent);
    for (const table of document.querySelectorAll('table')) {
        const caption = both(table.caption, 'caption', table.caption.textContent);
        const head = both(table.tHead.rows[0].cells[0], 'head', table.caption.textContent);
        const rows = [...table.querySelectorAll('tbody tr')].map(row => row.cells[0].lastChild.textContent.slice(0, -3));
        marks.push({ kind: 'table', caption, head, rows, name: marks.at(-1).name });
    }
    const foot = document.querySelector('.client .foot'), plots = document.querySelector('.plots h2');
    if (foot) both(foot, 'foot', 'the foot of the client\'s page');
    if (plots) both(plots, 'plots', plots.textContent);
    for (const heading of document.querySelectorAll('h2, h3')) {
        const next = heading.nextElementSibling;
        if (!next) continue;
        const first = next.matches('dl, ul') ? next.firstElementChild : next.matches('.table') ? next.querySelector('caption')
            : next;
        const word = both(heading, 'heading', heading.textContent), follows = `Mark${marks.length}x`;
        put(first, `${follows}top`, 'top:0');
        marks.push({ kind: 'follows', word: follows, heading: word, name: marks.at(-1).name });
    }
    return marks;
}

/* On which pages of a PDF each mark stands. */
function pages_of(pdf) {
    const places = new Map();
    const text = execFileSync('pdftotext', ['-raw', pdf, '-'], { encoding: 'utf8', maxBuffer: 1 << 28 });
    text.split('\f').forEach((one, page) => {
        for (const [, word, end] of one.matchAll(/Mark(\d+)x(top|end)/g)) {
            const key = `Mark${word}x${end}`;
            if (!places.has(key)) places.set(key, []);
            if (!places.get(key).includes(page + 1)) places.get(key).push(page + 1);
        }
    });
    return places;
}

function break_faults(marks, places) {
    const faults = [], at = word => places.get(word) || [];
    for (const mark of marks) {
        if (['row', 'plot', 'caption', 'heading'].includes(mark.kind)) {
            const [top] = at(`${mark.word}top`), [end] = at(`${mark.word}end`);
            if (!top || !end) faults.push(`${mark.kind} "${mark.name}": not in the PDF`);
            else if (top !== end) faults.push(`${mark.kind} "${mark.name}": cut, from page ${top} to page ${end}`);
        } else if (mark.kind === 'foot' || mark.kind === 'plots') {
            const wanted = mark.kind === 'foot' ? 1 : 2, pages = [...at(`${mark.word}top`), ...at(`${mark.word}end`)];
            if (pages.length === 0 || pages.some(page => page !== wanted))
                faults.push(`"${mark.name}": on page ${pages.join(' and ')}, not on page ${wanted}`);
        } else if (mark.kind === 'table') {
            const heads = at(`${mark.head}top`), pages = mark.rows.map(word => at(`${word}top`)[0]);
            if (at(`${mark.caption}end`)[0] !== pages[0]) faults.push(`"${mark.name}": its caption is on another page`);
            for (const page of new Set(pages))
                if (!heads.includes(page)) faults.push(`"${mark.name}": no column heads on page ${page}`);
        } else if (mark.kind === 'follows' && at(`${mark.heading}end`)[0] !== at(`${mark.word}top`)[0]) {
            faults.push(`heading "${mark.name}": parted from what follows it`);
        }
    }
    return faults;
}

/* The client's page, two of plots, and two for each group that was compared. */
function count_faults(groups, pages) {
    const most = 3 + 2 * groups.compared;
    return groups.others > 0 || pages <= most ? [] : [`${pages} pages; ${most} at most for ${groups.compared} groups`];
}

function count_groups() {
    const headings = [...document.querySelectorAll('h2')].map(heading => heading.textContent);
    return {
        compared: headings.filter(text => text.startsWith('Appendix: before and after')).length,
        others: headings.filter(text => text.startsWith('Appendix: figures')).length,
    };
}

function tidy_faults() {
    const done = spawnSync('tidy', ['-quiet', '-errors', page_path], { encoding: 'utf8', maxBuffer: 1 << 28 });
    if (done.error) throw done.error;
    const faults = done.stderr.split('\n').filter(line => line.trim());
    return done.status === 0 || faults.length ? faults : [`exit status ${done.status}`];
}

async function look(browser, width) {
    const page = await browser.newPage(), faults = [];
    page.on('console', message => faults.push(`console: ${message.text()}`));
    page.on('pageerror', error => faults.push(`error: ${error.message}`));
    page.on('request', request => {
        if (request.url() !== address) faults.push(`request: ${request.url()}`);
    });
    await page.setViewport({ width, height: width < 600 ? 740 : 900 });
    await page.goto(address, { waitUntil: 'load' });
    say(`${width} px: loads without an error or another request`, faults);
    say(`${width} px: nothing overflows, tables and plots are seen`, await page.evaluate(layout_faults));
    say(`${width} px: decimal points under each other`, await page.evaluate(point_faults));
    await page.screenshot({ path: path.join(out, `page-${width}.png`), fullPage: true });
    await page.evaluate(axe.source);
    const found = await page.evaluate(() => window.axe.run(document, { resultTypes: ['violations'] }));
    say(`${width} px: axe-core finds nothing`,
        found.violations.flatMap(one => one.nodes.map(node => `${one.id}: ${one.help}: ${node.html.slice(0, 120)}`)));
    await page.close();
}

async function print(browser) {
    const page = await browser.newPage(), pdf = path.join(out, 'page.pdf'), marked = path.join(out, 'marked.pdf');
    await page.goto(address, { waitUntil: 'load' });
    say('no script, nothing to fetch, every id once', await page.evaluate(forbidden_elements));
    await page.pdf({ path: pdf, preferCSSPageSize: true, printBackground: true });
    const info = execFileSync('pdfinfo', [pdf], { encoding: 'utf8' });
    const pages = Number(/Pages:\s*(\d+)/.exec(info)[1]);
    say(`prints on A4, ${pages} pages`, /Page size:.*A4/.test(info) ? [] : [/Page size:.*/.exec(info)[0]]);
    say('as few pages as they should be', count_faults(await page.evaluate(count_groups), pages));
    const marks = await page.evaluate(put_marks);
    await page.pdf({ path: marked, preferCSSPageSize: true, printBackground: true });
    const marked_pages = Number(/Pages:\s*(\d+)/.exec(execFileSync('pdfinfo', [marked], { encoding: 'utf8' }))[1]);
    say('page breaks cut no row, plot or heading; heads repeat; the client\'s page is the first', [
        ...(marked_pages === pages ? [] : [`the marks moved the pages: ${marked_pages} instead of ${pages}`]),
        ...break_faults(marks, pages_of(marked))]);
    fs.unlinkSync(marked);
    await page.close();
}

async function main() {
    const browser = await puppeteer.launch({
        executablePath: chromium,
        headless: true,
        args: ['--no-sandbox', '--disable-gpu', '--disable-dev-shm-usage', '--force-color-profile=srgb'],
    });
    say('tidy finds nothing', tidy_faults());
    try {
        for (const width of widths) await look(browser, width);
        await print(browser);
    } finally {
        await browser.close();
    }
    console.log(`${passed} passed, ${failed} failed`);
    process.exitCode = failed ? 1 : 0;
}

main().catch(error => {
    console.error(`check-page: ${error.stack}`);
    process.exitCode = 2;
});
