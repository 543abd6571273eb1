// What a machine can check of a page beside axe-core. Each check comes back with sentences,
// one for each thing that is wrong. Numbers are those of the Web Content Accessibility
// Guidelines 2.2, from memory.

// What is folded away is not seen.
const seen = (one) => one.getClientRects().length > 0 && one.checkVisibility({ visibilityProperty: true });
const named = (one) => one.outerHTML.replace(/\s+/g, ' ').slice(0, 110);
const all = (selector) => [...document.querySelectorAll(selector)];
const pressed = 'a[href], button, summary, select, input:not([type=hidden]), textarea, [tabindex="0"]';

const checks = {
    // 1.3.1, 2.4.1, 2.4.2, 2.4.6, 3.1.1, 3.2.6
    structure() {
        const wrong = [];
        if (document.documentElement.lang !== 'en') wrong.push('the page names no language');
        if (!/^\S.* · Quietbeam$/.test(document.title)) wrong.push(`the title is "${document.title}"`);
        const levels = all('h1, h2, h3, h4, h5, h6').filter(seen).map((one) => Number(one.tagName[1]));
        if (levels.filter((level) => level === 1).length !== 1) wrong.push(`headings h${levels.join(' h')}: one h1 is needed`);
        levels.forEach((level, at) => {
            if (level > (at ? levels[at - 1] : 0) + 1) wrong.push(`a heading h${level} comes after ${at ? `h${levels[at - 1]}` : 'nothing'}`);
        });
        const first = document.querySelector(pressed);
        if (first?.getAttribute('href') !== '#work' || !document.querySelector('main#work')) wrong.push('the first thing is not the way to the work');
        if (document.querySelector('header a[href="/help"]')?.textContent !== 'Help') wrong.push('Help is not in its place');
        const ids = all('[id]').map((one) => one.id);
        new Set(ids.filter((id, at) => ids.indexOf(id) !== at)).forEach((id) => wrong.push(`the id "${id}" is there twice`));
        if (all('[autofocus]').length > 1) wrong.push('two elements want the focus');
        all('a[href^="#"]').filter((one) => !document.getElementById(one.hash.slice(1)))
            .forEach((one) => wrong.push(`leads nowhere: ${named(one)}`));
        return wrong;
    },

    // 1.4.10, and 1.4.12 with the spacing that somebody may have set.
    reflow() {
        const wide = () => document.documentElement.scrollWidth > document.documentElement.clientWidth;
        const wrong = wide() ? ['the page scrolls sideways'] : [];
        const spaced = new CSSStyleSheet();
        spaced.replaceSync('* { line-height: 1.5 !important; letter-spacing: .12em !important; word-spacing: .16em !important } p { margin-bottom: 2em !important }');
        document.adoptedStyleSheets = [spaced];
        const beyond = all('main *').filter((one) => seen(one) && one.getBoundingClientRect().right > document.documentElement.clientWidth + 0.5);
        if (!wrong.length && wide()) wrong.push(`the page scrolls sideways with wide spacing: ${beyond.slice(0, 3).map(named).join(' ')}`);
        document.adoptedStyleSheets = [];
        return wrong;
    },

    // 2.5.8: at least 24 px; links inside a sentence are excepted.
    targets() {
        const large = (one) => { const box = one.getBoundingClientRect(); return box.height >= 23.9 && box.width >= 23.9; };
        const inSentence = (one) => one.closest('p, li, td, th, dd, .quiet, h1, h2') && one.tagName === 'A'
            && getComputedStyle(one).display === 'inline';
        return all('a, button, summary, select, input:not([type=hidden]), textarea')
            .filter((one) => seen(one) && !one.classList.contains('unseen') && !inSentence(one))
            .filter((one) => ![one, one.closest('label') ?? one].some(large))
            .map((one) => `smaller than 24 px: ${named(one)}`);
    },

    // 2.4.7 and 2.4.11: whatever has the focus is outlined and not covered.
    focus() {
        // The outline may stand around the row that the element fills.
        const outlined = (one) => one && one.tagName !== 'MAIN' && (outlined(one.parentElement)
            || getComputedStyle(one).outlineStyle !== 'none' && parseFloat(getComputedStyle(one).outlineWidth) >= 2);
        const wrong = [];
        for (const one of all(pressed).filter(seen)) {
            one.focus();
            if (document.activeElement !== one) { wrong.push(`takes no focus: ${named(one)}`); continue; }
            const label = one.closest('label');
            if (!outlined(one)) wrong.push(`has no outline with the focus: ${named(one)}`);
            const box = one.getClientRects()[0];
            const points = [[.5, .5], [.1, .5], [.9, .5], [.5, .2], [.5, .8]].map(([x, y]) => [box.left + x * box.width, box.top + y * box.height]);
            const uncovered = points.some(([x, y]) => {
                const top = document.elementFromPoint(x, y);
                return top && (one.contains(top) || top.contains(one) && top !== document.body && top.tagName !== 'MAIN' || label?.contains(top));
            });
            if (!uncovered) wrong.push(`is covered with the focus: ${named(one)}`);
        }
        document.activeElement?.blur();
        window.scrollTo(0, 0);
        return wrong;
    },

    // In forced colours every drawing has at least one line that differs from the ground,
    // and what is chosen differs from what is not.
    forced() {
        const ground = getComputedStyle(document.body).backgroundColor;
        const clear = ['none', 'rgba(0, 0, 0, 0)', 'transparent', ground];
        const drawn = (one) => { const style = getComputedStyle(one); return ![style.stroke, style.fill].every((paint) => clear.includes(paint)); };
        const blank = all('svg').filter(seen).filter((svg) => ![...svg.querySelectorAll('path, line, rect, circle, polyline, polygon, text, ellipse')].some(drawn));
        const same = all('.choice label:has(input:checked)').filter((label) => seen(label) && getComputedStyle(label).outlineStyle === 'none');
        return [...blank.map((one) => `is not to be seen in forced colours: ${named(one)}`),
            ...same.map((one) => `looks unchosen in forced colours: ${named(one)}`)];
    },

    // 2.3.3: nothing moves for whoever wants nothing to move.
    motion() {
        return all('*').filter((one) => { const style = getComputedStyle(one); return parseFloat(style.transitionDuration) > 0 || style.animationName !== 'none'; })
            .map((one) => `moves: ${named(one)}`);
    },

    // axe-core, which must be loaded.
    axe() {
        const asked = {
            runOnly: { type: 'tag', values: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'] },
            rules: { 'target-size': { enabled: true } },
            resultTypes: ['violations'],
        };
        return axe.run(document, asked).then(({ violations }) => violations.flatMap(({ id, nodes }) =>
            nodes.map((node) => `axe ${id}: ${node.target.join(' ')}: ${node.failureSummary.split('\n').slice(1, 3).join(' ').trim()}`)));
    },
};
