/* HTML after the WHATWG's standard. The page forbids by its own policy what it does not need: scripts, frames, anything from
 * elsewhere. */
#include "sheet/html.h"
#include "base/language.h"
#include "base/words.h"
#include <string.h>

#define LINE_CHARS 220 /* of what the shop calls itself */

static const char style[] =
    ":root{color-scheme:light "
    "dark;--ground:#fbfaf7;--ink:#15181c;--quiet:#5a5f66;--rule:#dedcd5;--blue:#0d4577;"
    "--ochre:#9a5206;--wash:#f3ece1}"
    "@media(prefers-color-scheme:dark){:root{--ground:#16191d;--ink:#ebe8e1;--quiet:#a6abb1;--rule:"
    "#343a41;"
    "--blue:#86b8ea;--ochre:#e2a659;--wash:#2a2620}}"
    "*{box-sizing:border-box}body{margin:0 "
    "auto;max-width:54rem;padding:1.5rem;background:var(--ground);"
    "color:var(--ink);font:1rem/1.5 system-ui,'DejaVu "
    "Sans',sans-serif;font-variant-numeric:tabular-nums}"
    "header{display:flex;justify-content:space-between;gap:1rem;border-bottom:2px solid var(--ink)}"
    "h1{font-size:1.6rem;margin:.2rem 0 .6rem}h2{font-size:1.05rem;margin:1.6rem 0 .4rem}"
    "p{margin:0 0 .5rem}.quiet,figcaption,footer{color:var(--quiet);font-size:.85rem}"
    "dl{display:grid;grid-template-columns:repeat(auto-fill,minmax(min(100%,24rem),1fr));gap:.2rem "
    "1.5rem;"
    "margin:1rem 0}dl div{display:grid;grid-template-columns:8.5rem "
    "1fr;gap:.6rem}dt{color:var(--quiet)}"
    "dd{margin:0}.result{font-size:1.15rem;font-weight:600}figure{margin:1rem "
    "0}svg{width:100%;height:auto}"
    "svg text{fill:var(--quiet);font:12px system-ui,'DejaVu "
    "Sans',sans-serif}.grid{stroke:var(--rule)}"
    ".torque{fill:none;stroke:var(--blue);stroke-width:2.2}.power{fill:none;stroke:var(--ochre);"
    "stroke-width:2;"
    "stroke-dasharray:8 "
    "5}.one{fill:none;stroke:var(--blue);stroke-width:.7}.band{fill:var(--blue);opacity:.16}"
    ".dots{fill:var(--quiet);opacity:.35}svg .torque-name{fill:var(--blue);font-weight:600}"
    "svg .power-name{fill:var(--ochre);font-weight:600}.wide{overflow-x:auto}"
    "table{border-collapse:collapse;width:100%;font-size:.92rem}th,td{text-align:right;padding:."
    "15rem .6rem;"
    "border-bottom:1px solid var(--rule);white-space:nowrap}thead th{vertical-align:bottom}"
    "thead small{display:block;color:var(--quiet);font-weight:400}"
    ".mind{background:var(--wash);border-left:4px solid var(--ochre);padding:.5rem .8rem .5rem "
    "2rem;margin:0}"
    "ul{margin:0;padding-left:1.2rem;overflow-wrap:anywhere}code{font-size:.8rem}footer{margin-top:"
    "2rem;"
    "border-top:1px solid var(--rule);padding-top:.6rem}img{max-height:4rem;max-width:12rem}"
    ".photos{display:grid;grid-template-columns:repeat(auto-fit,minmax(15rem,1fr));gap:1rem}"
    ".photos figure{margin:0;break-inside:avoid}.photos img{max-width:100%;max-height:30rem}"
    ".promise td,.promise th{text-align:left;white-space:normal}.sign{display:grid;"
    "grid-template-columns:1fr 1fr;gap:2rem;margin-top:3.2rem}.sign p{border-top:1px solid "
    "var(--ink);padding-top:.2rem;font-size:.8rem;color:var(--quiet)}"
    /* on paper: small, and each part held to what fits one page */
    "@media "
    "print{:root{--ground:#fff;--ink:#000;--quiet:#444;--rule:#bbb;--blue:#0d4577;--ochre:#9a5206;"
    "--wash:#fff;font-size:8.2pt}body{max-width:none;padding:0;line-height:1.3}h1{font-size:16pt;"
    "margin:0 0 1mm}h2{font-size:9pt;margin:2mm 0 .5mm}dl{grid-template-columns:1fr "
    "1fr;margin:1.5mm "
    "0;gap:.3mm 5mm}.result{font-size:10.5pt;margin:0}.customer figure{margin:1mm 0}.customer "
    "svg{height:64mm}.tight svg{height:42mm}table{font-size:7.8pt}th,td{padding:.1mm "
    "1.5mm}.mind{padding:.5mm 1mm .5mm "
    "5mm}.customer{break-after:avoid-page}.next{break-before:page}.sign{margin-top:11mm}"
    "section{break-inside:avoid}footer{margin-top:2mm;padding-top:1mm}footer p{margin:0}"
    "img{max-height:13mm}.flow table{font-size:8.5pt}.flow th,.flow td{padding:.6mm 1.5mm}"
    ".box{height:16mm}}"
    /* text that flows (flow_html.h) */
    ".flow table{min-width:32rem}"
    ".flow th,.flow "
    "td{text-align:left;white-space:normal;overflow-wrap:break-word;vertical-align:top}"
    ".flow .line{white-space:nowrap}"
    ".flow .num{text-align:right;white-space:nowrap}.flow tr{break-inside:avoid}"
    ".flow h2,.flow .lead{break-after:avoid}.flow .lead{margin:1rem 0 .3rem;font-weight:600}"
    ".flow dd{overflow-wrap:anywhere}.box{height:4rem;border:1px solid var(--ink)}";

void ew_html_put(GString *to, const char *before, const char *text, const char *after) {
  g_autofree char *valid = g_utf8_make_valid(text ? text : "", -1);
  g_autofree char *safe = g_markup_escape_text(valid, -1);
  g_string_append_printf(to, "%s%s%s", before, safe, after);
}

char *ew_html_cut(const char *text, glong most) {
  if (g_utf8_strlen(text, -1) <= most)
    return g_strdup(text);
  g_autofree char *begin = g_utf8_substring(text, 0, most - 1);
  return g_strconcat(begin, "…", NULL);
}

static void put_cut(GString *to, const char *before, const char *text, glong most,
                    const char *after) {
  g_autofree char *cut = ew_html_cut(text, most);
  ew_html_put(to, before, cut, after);
}

static void put_logo(const struct ew_flow_head *head, GString *to) {
  if (head->logo_bytes <= 8 || memcmp(head->logo_png, "\x89PNG\r\n\x1a\n", 8) != 0)
    return;
  g_autofree char *base64 = g_base64_encode(head->logo_png, head->logo_bytes);
  g_string_append_printf(to, "<img alt=\"\" src=\"data:image/png;base64,%s\">", base64);
}

void ew_html_head(const struct ew_flow_head *head, enum ew_paper paper, GString *to) {
  g_string_append_printf(to,
                         "<!doctype html>\n<html lang=\"%s\"><head><meta charset=\"utf-8\">"
                         "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src "
                         "'none'; style-src 'unsafe-inline'; img-src data:\">"
                         "<meta name=\"viewport\" content=\"width=device-width\">",
                         ew_language_code(ew_language_now()));
  put_cut(to, "<title>", head->title, LINE_CHARS, "</title>");
  g_string_append_printf(to, "<style>@page{size:%s;margin:11mm 13mm}",
                         paper == EW_PAPER_LETTER ? "letter" : "A4");
  g_string_append_printf(to, "%s</style></head><body>\n<header><div>", style);
  put_cut(to, "<p><b>", head->shop, LINE_CHARS, "</b>");
  put_cut(to, " <span class=\"quiet\">", head->shop_line, LINE_CHARS, "</span></p>");
  put_cut(to, "<h1>", head->title, EW_HTML_TITLE_CHARS, "</h1></div>");
  put_logo(head, to);
  g_string_append(to, "</header>\n");
}

void ew_html_foot(const struct ew_flow_head *head, GString *to) {
  g_autofree char *day = ew_sheet_day(head->stamp),
                  *made = ew_words("made %s by Enginewright", day);
  ew_html_put(to, "<footer><p>", head->terms, "</p>");
  ew_html_put(to, "<p>", made, "</p></footer>");
}
