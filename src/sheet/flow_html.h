/* The flow of flow.h into one HTML file (html.h). Its parts are called by flow.c alone. */
#pragma once
#include "sheet/flow.h"

void ew_flow_html_open(struct ew_flow *flow, const char *path, enum ew_paper paper);
/* Writes the file, whole or not at all. */
gboolean ew_flow_html_close(struct ew_flow *flow, GError **error);
/* `text` of the next two is in the reader's language. */
void ew_flow_html_text(struct ew_flow *flow, double size, gboolean bold, const char *text);
void ew_flow_html_caution(struct ew_flow *flow, const char *text);
void ew_flow_html_heading(struct ew_flow *flow, const char *english);
void ew_flow_html_pairs(struct ew_flow *flow, const GPtrArray *pairs);
void ew_flow_html_table(struct ew_flow *flow, const struct ew_flow_column *columns, guint count,
                        const GPtrArray *cells);
