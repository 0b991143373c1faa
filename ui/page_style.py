"""How the page looks.

Conventions: nothing here has a colour of its own but through the text's colour, so that light and dark screens both
serve; what is marked is marked by a line or a shade, never by colour alone.
"""

from __future__ import annotations

STYLE = """
<style>
[data-testid="stMainBlockContainer"] { max-width: 70rem; padding: 1.25rem 1.5rem 4rem; }
[data-testid="stHeader"] { background: transparent; height: 1.5rem; min-height: 1.5rem; pointer-events: none; }
[data-testid="stHeader"] > * { pointer-events: auto; }
[data-testid="stMain"] [data-testid="stVerticalBlock"] { gap: 0.75rem; }
[data-testid="stMain"] [data-testid="stCaptionContainer"] { color: inherit; opacity: 0.85; }
.stTextArea textarea, .stTextInput input { font-family: "Source Code Pro", ui-monospace, monospace; }
button[role="radio"][aria-checked="true"], button[kind="segmented_controlActive"] { color: inherit !important;
  border-color: currentColor !important; background: color-mix(in srgb, currentColor 11%, transparent) !important;
  font-weight: 600; }
.stTextArea :focus-within, .stTextInput :focus-within, .stSelectbox :focus-within, .stMultiSelect :focus-within {
  border-color: currentColor !important; }
.stButton button:is(:hover, :focus, :active), .stPopover button:is(:hover, :focus, :active),
button[role="radio"]:is(:hover, :focus, :active) { color: inherit !important; border-color: currentColor !important; }
.sc-unseen { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); }

.sc-top { display: flex; flex-wrap: wrap; align-items: baseline; gap: 0.1rem 1rem; }
.sc-top h1 { font-family: "Source Serif", Georgia, serif; font-size: 1.7rem; font-weight: 600; padding: 0;
  margin: 0; }
.sc-top span { opacity: 0.8; font-size: 0.95rem; overflow-wrap: anywhere; }
.sc-title { font-family: "Source Serif", Georgia, serif; font-size: 1.35rem; font-weight: 600; line-height: 1.25;
  margin: 0; padding: 0; overflow-wrap: anywhere; }
.sc-sheet .sc-title { font-size: 1.8rem; }
.sc-facts { margin: 0.1rem 0 0; opacity: 0.85; font-size: 0.95rem; overflow-wrap: anywhere; }
.sc-answer { font-size: 1.1rem; margin: 0; overflow-wrap: anywhere; }
.sc-answer b { font-weight: 650; }
.sc-section { font-family: "Source Serif", Georgia, serif; font-style: italic; font-size: 1.15rem; font-weight: 600;
  margin: 1.1rem 0 0.35rem; padding: 0; overflow-wrap: anywhere; }
.sc-where { margin: 0.8rem 0 0.3rem; font-size: 0.95rem; }

.sc-strip { container-type: inline-size; }
.sc-facts + .sc-strip { margin-top: 1.1rem; }
.sc-bars { display: grid; max-width: 60rem; row-gap: 0.65rem; grid-template-columns: repeat(4, minmax(0, 1fr)); }
.sc-cols-3 { grid-template-columns: repeat(3, minmax(0, 1fr)); }
.sc-cols-5 { grid-template-columns: repeat(5, minmax(0, 1fr)); }
.sc-cols-6 { grid-template-columns: repeat(6, minmax(0, 1fr)); }
@container (max-width: 52rem) {
  .sc-cols-5, .sc-cols-6 { grid-template-columns: repeat(3, minmax(0, 1fr)); }
}
@container (max-width: 36rem) {
  .sc-bars { grid-template-columns: repeat(2, minmax(0, 1fr)); }
  .sc-line { grid-column-start: auto !important; }
}
.sc-line { grid-column-start: 1; }
.sc-wide, .sc-words { grid-column: 1 / -1; }
.sc-bar { position: relative; border-left: 1px solid currentColor; border-right: 1px solid currentColor;
  margin-right: -1px; padding: 0.15rem 0.5rem 0.3rem; min-width: 0; }
.sc-wide { border-right-color: transparent; display: flex; gap: 0.6rem; max-width: 44rem; }
.sc-wide .sc-head { flex: none; flex-direction: column; width: 4.6rem; overflow-wrap: anywhere; }
.sc-sheet .sc-wide .sc-head { width: 1.8rem; }
.sc-wide > :last-child { min-width: 0; flex: 1; }
.sc-open { border-left: 5px double currentColor; padding-left: 0.9rem; }
.sc-close { border-right: 5px double currentColor; padding-right: 0.9rem; }
.sc-open::before, .sc-close::after { content: ":"; position: absolute; top: 50%; transform: translateY(-55%);
  font-weight: 900; font-size: 1.6rem; line-height: 1; }
.sc-open::before { left: 0.25rem; }
.sc-close::after { right: 0.25rem; }
.sc-head { display: flex; flex-wrap: wrap; gap: 0 0.5rem; align-items: baseline; font-size: 0.78rem;
  line-height: 1.3; }
.sc-number { opacity: 0.7; }
.sc-label { font-family: "Source Serif", Georgia, serif; font-style: italic; font-weight: 600; font-size: 0.9rem; }
.sc-sign { font-weight: 600; }
.sc-end { margin-left: auto; }
.sc-cells { display: flex; flex-wrap: wrap; gap: 0.1rem 0.7rem; }
.sc-cell { flex: 1 1 0; min-width: fit-content; max-width: 100%; overflow-wrap: anywhere; }
.sc-chord { display: inline-flex; flex-direction: column; max-width: 100%; }
.sc-name { font-family: "Source Serif", Georgia, serif; font-size: 1.2rem; line-height: 1.35; font-weight: 500; }
.sc-degree { font-size: 0.95rem; line-height: 1.3; opacity: 0.9; }
.sc-notes { font-size: 0.82rem; line-height: 1.3; opacity: 0.85; }
.sc-held > .sc-name { font-weight: 400; opacity: 0.7; }
.sc-taken > .sc-name, .sc-taken > .sc-degree { font-weight: 700; opacity: 1; }
.sc-match { background: color-mix(in srgb, currentColor 11%, transparent);
  box-shadow: inset 0 2px 0 currentColor, inset 0 -2px 0 currentColor; }
.sc-from { border-left: 5px solid currentColor; }
.sc-to { border-right: 5px solid currentColor; }
.sc-words { white-space: pre-wrap; font-size: 1rem; line-height: 1.35; margin-top: -0.3rem; opacity: 0.9; }
.sc-wide .sc-words { margin-top: 0.1rem; }
.sc-sung { line-height: 1.2; }
.sc-run { white-space: nowrap; }
.sc-piece { display: inline-flex; flex-direction: column; vertical-align: bottom; margin-bottom: 0.25rem;
  max-width: 100%; }
.sc-piece .sc-chord { padding-right: 0.5rem; }
.sc-text { white-space: pre; font-size: 1rem; line-height: 1.35; }
.sc-more { margin: 0.6rem 0 0; }
.sc-more > summary { cursor: pointer; font-size: 0.95rem; }

.sc-sheet ul.sc-list { list-style: none; margin: 0.3rem 0 0; padding: 0; display: grid; gap: 0.35rem 1.2rem;
  grid-template-columns: repeat(auto-fill, minmax(11rem, 1fr)); }
.sc-sheet .sc-list li { margin: 0; padding: 0.15rem 0; display: flex; flex-wrap: wrap; gap: 0 0.6rem;
  border-top: 1px solid color-mix(in srgb, currentColor 30%, transparent);
  align-items: baseline; align-content: flex-start; }
.sc-list .sc-notes { flex-basis: 100%; font-size: 0.95rem; }

.sc-notice { border: 1px solid color-mix(in srgb, currentColor 45%, transparent); border-left-width: 5px;
  border-radius: 4px;
  padding: 0.5rem 0.8rem; overflow-wrap: anywhere; }
.sc-notice + .sc-notice { margin-top: 0.6rem; }
.sc-notice.sc-fault { border-left-style: double; border-left-width: 8px; border-color: currentColor; }
.sc-place { font-size: 0.9rem; font-weight: 600; }
.sc-said { white-space: pre-line; }
.sc-said code { font-size: 0.95em; padding: 0.05rem 0.3rem; white-space: pre-wrap; color: inherit;
  background: color-mix(in srgb, currentColor 11%, transparent); }
pre.sc-drawn { font-family: "Source Code Pro", ui-monospace, monospace; font-size: 0.95rem; line-height: 1.25;
  margin: 0.2rem 0;
  padding: 0; background: none; color: inherit; overflow-x: auto; }
.sc-listing { font-family: "Source Code Pro", ui-monospace, monospace; font-size: 0.92rem; line-height: 1.4;
  overflow-x: auto;
  border: 1px solid color-mix(in srgb, currentColor 30%, transparent); border-radius: 4px; padding: 0.4rem 0; }
.sc-row { display: flex; min-width: max-content; }
.sc-bad { background: color-mix(in srgb, currentColor 11%, transparent); }
.sc-no { flex: none; width: 2.8rem; text-align: right; padding-right: 0.8rem; opacity: 0.65; user-select: none; }
.sc-src { white-space: pre; padding-right: 0.8rem; }
.sc-under { font-family: "Source Sans", sans-serif; font-size: 0.98rem; margin: 0.1rem 0.8rem 0.5rem 2.8rem;
  padding-left: 0.6rem; border-left: 3px solid currentColor; }
.sc-under .sc-said { display: inline; }
.sc-kind { font-weight: 700; }
.sc-table { border-collapse: collapse; width: 100%; }
.sc-table td, .sc-table th { border-bottom: 1px solid color-mix(in srgb, currentColor 25%, transparent);
  text-align: left;
  vertical-align: top; padding: 0.25rem 1rem 0.25rem 0; font-weight: 400; }
.sc-table td:first-child { font-family: "Source Code Pro", ui-monospace, monospace; white-space: pre-wrap;
  width: 40%; }
.sc-alike { border-collapse: collapse; margin: 0 0 0.8rem; }
.sc-alike th { font-weight: 400; opacity: 0.65; text-align: left; padding-right: 0.8rem; }
.sc-alike td { border-left: 1px solid color-mix(in srgb, currentColor 40%, transparent);
  padding: 0.1rem 0.8rem 0.1rem 0.4rem; }
.sc-alike tr:nth-child(even) td, .sc-alike tr:nth-child(even) th { padding-bottom: 0.5rem; }
</style>
"""
