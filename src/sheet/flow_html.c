/* Sizes become looks: what is small on paper is quiet here, what is bold leads. */
#include "sheet/flow_html.h"
#include "base/error.h"
#include "base/language.h"
#include "base/words.h"
#include "sheet/html.h"

#define SMALL 8.5 /* points: below it a text is quiet */

void ew_flow_html_open(struct ew_flow *flow, const char *path, enum ew_paper paper) {
  flow->pages = (struct ew_pages){.format = EW_FORMAT_HTML, .path = path};
  flow->pages.labels = flow->head.labels;
  flow->html = g_string_new(NULL);
  ew_html_head(&flow->head, paper, flow->html);
  g_string_append(flow->html, "<main class=\"flow\">");
  ew_html_put(flow->html, "<p>", flow->head.about, "</p>\n");
}

gboolean ew_flow_html_close(struct ew_flow *flow, GError **error) {
  g_autoptr(GError) problem = NULL;
  ew_html_foot(&flow->head, flow->html);
  g_string_append(flow->html, "</main></body></html>\n");
  gboolean good =
      g_file_set_contents(flow->pages.path, flow->html->str, (gssize)flow->html->len, &problem);
  g_string_free(flow->html, TRUE);
  flow->html = NULL;
  return good || ew_fail(error, "%s", problem->message);
}

/* As ew_text does it: what somebody typed keeps its words. */
static void put(const struct ew_flow *flow, enum ew_align align, const char *before,
                const char *text, const char *after) {
  g_autofree char *labelled = align == EW_OWN || flow->pages.labels == EW_LABELS_BRITISH
                                  ? g_strdup(text)
                                  : ew_labels_put(text, flow->pages.labels);
  ew_html_put(flow->html, before, labelled, after);
}

void ew_flow_html_heading(struct ew_flow *flow, const char *english) {
  put(flow, EW_LEFT, "<h2>", ew_tr(english), "</h2>\n");
}

void ew_flow_html_text(struct ew_flow *flow, double size, gboolean bold, const char *text) {
  put(flow, EW_LEFT,
      bold           ? "<p class=\"lead\">"
      : size < SMALL ? "<p class=\"quiet\">"
                     : "<p>",
      text, "</p>\n");
}

void ew_flow_html_caution(struct ew_flow *flow, const char *text) {
  put(flow, EW_LEFT, "<p class=\"mind\"><b>", ew_tr("Caution"), "</b> ");
  put(flow, EW_LEFT, "", text, "</p>\n");
}

void ew_flow_html_pairs(struct ew_flow *flow, const GPtrArray *pairs) {
  g_string_append(flow->html, "<dl>");
  for (guint i = 0; i + 1 < pairs->len; i += 2) {
    const char *label = pairs->pdata[i], *value = pairs->pdata[i + 1];
    if (!value || !*value)
      continue;
    put(flow, EW_LEFT, "<div><dt>", ew_tr(label), "</dt>");
    put(flow, ew_pair_is_typed(label) ? EW_OWN : EW_LEFT, "<dd>", value, "</dd></div>");
  }
  g_string_append(flow->html, "</dl>\n");
}

static void put_columns(struct ew_flow *flow, const struct ew_flow_column *columns, guint count) {
  double total = 0;
  for (guint k = 0; k < count; k++)
    total += columns[k].share;
  g_assert(total > 0);
  for (guint k = 0; k < count; k++) {
    g_autofree char *col = ew_exact("<col style=\"width:%.1f%%\">", 100 * columns[k].share / total);
    g_string_append(flow->html, col);
  }
  g_string_append(flow->html, "<thead><tr>");
  for (guint k = 0; k < count; k++)
    put(flow, EW_LEFT,
        columns[k].align == EW_RIGHT ? "<th scope=\"col\" class=\"num\">" : "<th scope=\"col\">",
        ew_tr(columns[k].head), "</th>");
  g_string_append(flow->html, "</tr></thead>");
}

static void put_cell(struct ew_flow *flow, const struct ew_flow_column *column, const char *text) {
  const char *begin = column->align == EW_RIGHT  ? "<td class=\"num\">"
                      : column->align == EW_LEFT ? "<td class=\"line\">" /* a day, a time */
                                                 : "<td>";
  if (!text)
    g_string_append(flow->html, "<td class=\"box\"></td>");
  else if (*text == '!') {
    g_string_append(flow->html, begin);
    put(flow, column->align, "<b>", text + 1, "</b></td>");
  } else
    put(flow, column->align, begin, text, "</td>");
}

void ew_flow_html_table(struct ew_flow *flow, const struct ew_flow_column *columns, guint count,
                        const GPtrArray *cells) {
  g_string_append(flow->html, "<div class=\"wide\"><table>");
  put_columns(flow, columns, count);
  g_string_append(flow->html, "<tbody>");
  for (guint i = 0; i + count <= cells->len; i += count) {
    g_string_append(flow->html, "<tr>");
    for (guint k = 0; k < count; k++)
      put_cell(flow, &columns[k], cells->pdata[i + k]);
    g_string_append(flow->html, "</tr>\n");
  }
  g_string_append(flow->html, "</tbody></table></div>\n");
}
