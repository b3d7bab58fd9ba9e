/* What the sheets that are one HTML file share: head, foot, looks. For a customer's screen, light and dark, and the same on paper. No
 * script, nothing fetched. Every text goes through ew_html_put. */
#pragma once
#include "sheet/flow.h"

#define EW_HTML_TITLE_CHARS 90

/* Doctype, head with the style, and the head of the sheet; the body is open. */
void ew_html_head(const struct ew_flow_head *head, enum ew_paper paper, GString *to);
void ew_html_foot(const struct ew_flow_head *head, GString *to);
/* Marks around a text, whose own marks are escaped; invalid UTF-8 is made valid. */
void ew_html_put(GString *to, const char *before, const char *text, const char *after);
/* At most that many characters, the last an ellipsis. To be freed. */
char *ew_html_cut(const char *text, glong most);
