//! Nothing of a page is lost where its text is twice as large, or its window 320 pixels wide.
//!
//! In:  every page of a planned week, with all that can be opened open; the browser's own setting of the text's size (32 px in place of 16), which
//! is what a person sets who cannot read small print. Out: a line for each place where words lie beside the page, are cut off or lie over
//! others, and for each control that cannot be brought into sight. Keeps: a page on which something is lost is told
//! (`a_page_that_loses_words_is_told`). Not here: the look itself; paper (`ticket_pages`, `weeks`).
//! Source: WCAG 2.2, success criteria 1.4.4 (text at 200 %) and 1.4.10 (320 CSS pixels).

use crate::browser::{Browser, Script, TextSize};
use crate::http::{OF_A_CHILD, PAGES};
use crate::served::Served;

/// Pages beside those of the lists that have tables or forms of their own.
const MORE: [&str; 5] = [
    "/score-sheets/1",
    "/attendance/2026-02-02",
    "/rotation/2026-02-02/roster?by=adult",
    "/rotation/2026-02-02/roster?by=homeroom",
    "/movement/memo/2026-02-02",
];

const LOST: &str = "
  for (const more of document.querySelectorAll('details')) more.open = true;
  const width = document.documentElement.clientWidth;
  const found = [];
  const over = document.documentElement.scrollWidth - width;
  if (over > 0) found.push(`the page is ${over} px too wide`);
  const isShown = (e) => e.checkVisibility({ visibilityProperty: true }) && !e.closest('.hidden, .skip, [hidden]');
  const regions = (e) => {
    const around = [];
    for (let a = e; a && a !== document.body; a = a.parentElement) {
      const { overflowX, overflowY, position } = getComputedStyle(a);
      if (overflowX !== 'visible' || overflowY !== 'visible') around.push([a, ['auto', 'scroll'].includes(overflowX)]);
      if (position === 'sticky') return null;
    }
    return around;
  };
  const pieces = [];
  const add = (inside, owner, box, words) => {
    const around = regions(inside);
    if (!around || box.width < 1 || box.height < 1) return;
    let { left, right, top, bottom } = box;
    for (const [a, scrolls] of around) {
      const edge = a.getBoundingClientRect();
      const [from, to] = scrolls ? [edge.left - a.scrollLeft, edge.left - a.scrollLeft + a.scrollWidth] : [edge.left, edge.right];
      if (left < from - 1 || right > to + 1) found.push(`cut off at the side: ${words}`);
      if (!scrolls && (top < edge.top - 1 || bottom > edge.bottom + 1)) found.push(`cut off above or below: ${words}`);
      left = Math.max(left, edge.left);
      right = Math.min(right, edge.right);
    }
    if (!around.some(([, scrolls]) => scrolls) && (left < -1 || right > width + 1)) found.push(`beside the page: ${words}`);
    if (right - left > 2) pieces.push({ owner, words, left: left + 1, right: right - 1, top: top + (bottom - top) / 4, bottom: bottom - (bottom - top) / 4 });
  };
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let text = walk.nextNode(); text; text = walk.nextNode()) {
    const e = text.parentElement;
    if (!text.data.trim() || e.closest('svg, select, textarea, script, math') || !isShown(e)) continue;
    const range = document.createRange();
    range.selectNodeContents(text);
    for (const box of range.getClientRects()) add(e, e, box, text.data.trim().slice(0, 60));
  }
  const fields = [...document.querySelectorAll('input:not([type=hidden]), select, textarea, main svg')];
  for (const e of fields) if (isShown(e)) add(e.parentElement, e, e.getBoundingClientRect(), `${e.tagName} ${e.id || e.name || e.getAttribute('aria-label')}`);
  pieces.sort((a, b) => a.top - b.top);
  for (let i = 0; i < pieces.length; i++) {
    for (let j = i + 1; j < pieces.length && pieces[j].top < pieces[i].bottom; j++) {
      const [a, b] = [pieces[i], pieces[j]];
      if (a.owner.contains(b.owner) && a.owner !== b.owner && a.owner.tagName === 'svg') continue;
      if (a.left < b.right && b.left < a.right) found.push(`${a.words} lies over ${b.words}`);
    }
  }
  for (const e of document.querySelectorAll('a[href], button, input:not([type=hidden]), select, textarea, summary')) {
    if (!isShown(e)) continue;
    e.scrollIntoView({ block: 'center', inline: 'center', behavior: 'instant' });
    const box = [...e.getClientRects()].find((r) => r.width > 0 && r.height > 0);
    const at = box && document.elementFromPoint(box.left + box.width / 2, box.top + Math.min(box.height / 2, 40));
    if (!at || !(e.contains(at) || [...(e.labels ?? [])].some((l) => l.contains(at)))) found.push(`out of reach: ${e.outerHTML.slice(0, 100)}`);
  }
  return [...new Set(found)].slice(0, 12);";

/// What is lost on the page as it stands.
async fn lost(browser: &Browser) -> Vec<String> {
    browser.driver.execute(LOST, vec![]).await.unwrap().convert().unwrap()
}

async fn nothing_is_lost(size: TextSize, width: u32) {
    let served = tokio::task::spawn_blocking(Served::demo).await.unwrap();
    let browser = Browser::start_with(Script::On, size).await;
    browser.driver.goto(served.launch_address()).await.unwrap();
    browser.driver.set_window_rect(0, 0, width, 900).await.unwrap();
    let told = "return [innerWidth, parseFloat(getComputedStyle(document.documentElement).fontSize)]";
    let (shown, font): (u32, f64) = browser.driver.execute(told, vec![]).await.unwrap().convert().unwrap();
    let usual = 17.0;
    let wanted = if size == TextSize::Doubled { 2.0 * usual } else { usual };
    assert!(shown == width && (font - wanted).abs() < 0.1, "{shown} px wide, text of {font} px");
    let mut found = Vec::new();
    for path in PAGES.into_iter().chain(OF_A_CHILD).chain(MORE) {
        browser.driver.goto(format!("{}{path}", served.base)).await.unwrap();
        found.extend(lost(&browser).await.into_iter().map(|what| format!("{path}: {what}")));
    }
    assert!(found.is_empty(), "\n  {}", found.join("\n  "));
    browser.stop().await;
    tokio::task::spawn_blocking(move || drop(served)).await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn nothing_is_lost_where_text_is_twice_as_large() {
    nothing_is_lost(TextSize::Doubled, 1280).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn nothing_is_lost_where_text_is_twice_as_large_in_half_a_window() {
    nothing_is_lost(TextSize::Doubled, 640).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn nothing_is_lost_in_a_window_of_320_pixels() {
    nothing_is_lost(TextSize::Usual, 320).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_page_that_loses_words_is_told() {
    let browser = Browser::start(Script::On).await;
    browser.driver.set_window_rect(0, 0, 640, 700).await.unwrap();
    let page = "data:text/html,<body style='margin:0'><div style='height:9px;overflow:hidden'>cut below</div>\
        <div style='width:20px;overflow:hidden;white-space:nowrap'>cut aside</div>\
        <p style='margin:0'>under</p><p style='margin:-20px 0 0'>over</p><p style='width:2000px'>wide</p>\
        <p style='position:absolute;left:-90px;top:200px'>aside</p><button style='position:absolute;left:-500px'>away</button>";
    browser.driver.goto(page).await.unwrap();
    let found = lost(&browser).await.join("\n");
    for fault in [
        "too wide",
        "above or below: cut below",
        "side: cut aside",
        "lies over",
        "beside the page: aside",
        "out of reach",
    ] {
        assert!(found.contains(fault), "{fault}:\n{found}");
    }
    browser.stop().await;
}
