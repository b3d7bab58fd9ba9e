/* Text down a page and onto the next: a heading never stands alone at the foot, a table carries its head along, and
 * its last rows stay together. Heights are measured by Pango before anything is drawn. Into HTML: flow_html.c. */
#include "sheet/flow.h"
#include "base/language.h"
#include "base/words.h"
#include "sheet/flow_html.h"
#include <math.h>
#include <string.h>

#define FOOT      52.0 /* kept free at the foot of a page */
#define LAST_ROWS 4    /* of a table: not left alone on a page */

double ew_flow_left(const struct ew_flow *flow) {
  return flow->pages.height - FOOT - flow->y;
}

double ew_flow_width(const struct ew_flow *flow) {
  return flow->pages.width - 2 * flow->pages.margin;
}

static void draw_foot(struct ew_flow *flow) {
  struct ew_pages *p = &flow->pages;
  double y = p->height - 34;
  g_autofree char *day = ew_sheet_day(flow->head.stamp), *page = ew_words("page %d", p->page),
                  *by = ew_words("made %s by Enginewright.", day),
                  *made = g_strdup_printf("%s %s", by, flow->head.terms ? flow->head.terms : "");
  ew_line(p, p->margin, y - 4, p->width - p->margin, y - 4, 0.5, ew_grey);
  ew_text(p, p->margin, y, ew_flow_width(flow) - 60, 6.5, FALSE, EW_OWN, ew_grey, made);
  ew_text(p, p->width - p->margin, y, 0, 6.5, FALSE, EW_RIGHT, ew_grey, page);
}

static void draw_head(struct ew_flow *flow) {
  struct ew_pages *p = &flow->pages;
  const struct ew_flow_head *h = &flow->head;
  double x = p->margin, y = p->margin - 8, wide = ew_flow_width(flow) - 160;
  y += ew_text(p, x, y, 0, 10, TRUE, EW_OWN, ew_black, h->shop) + 1;
  if (h->shop_line && *h->shop_line)
    y += ew_text(p, x, y, wide, 7.5, FALSE, EW_OWN, ew_grey, h->shop_line);
  y += 5;
  y += ew_text(p, x, y, wide, 19, TRUE, EW_LEFT, ew_black, h->title) + 2;
  y += ew_text(p, x, y, wide, 9.5, FALSE, EW_OWN, ew_black, h->about) + 4;
  ew_logo(p, h->logo_png, h->logo_bytes);
  y = fmax(y, p->margin + 46);
  ew_line(p, x, y, p->width - x, y, 1.2, ew_black);
  flow->y = y + 9;
}

/* Later pages carry title and engine in one small line. */
static void draw_running_head(struct ew_flow *flow) {
  struct ew_pages *p = &flow->pages;
  g_autofree char *text = g_strdup_printf("%s: %s", flow->head.title, flow->head.about);
  ew_text(p, p->margin, p->margin - 14, 0, 7.5, TRUE, EW_OWN, ew_grey, text);
  ew_line(p, p->margin, p->margin - 1, p->width - p->margin, p->margin - 1, 0.5, ew_grey);
  flow->y = p->margin + 8;
}

void ew_flow_open(struct ew_flow *flow, const struct ew_flow_head *head, const char *path,
                  enum ew_format format, enum ew_paper paper) {
  *flow = (struct ew_flow){.head = *head}; /* whatever stood there before */
  if (format == EW_FORMAT_HTML) {
    ew_flow_html_open(flow, path, paper);
    return;
  }
  ew_pages_open(&flow->pages, path, format, paper, head->title, head->stamp);
  flow->pages.labels = head->labels;
  ew_pages_next(&flow->pages);
  draw_head(flow);
}

gboolean ew_flow_close(struct ew_flow *flow, GError **error) {
  if (flow->html)
    return ew_flow_html_close(flow, error);
  g_assert(flow->pages.page > 0);
  draw_foot(flow);
  return ew_pages_close(&flow->pages, error);
}

void ew_flow_need(struct ew_flow *flow, double height) {
  if (flow->html)
    return;
  g_assert(flow->pages.page > 0 && !(height < 0));
  if (flow->y + height <= flow->pages.height - FOOT)
    return;
  draw_foot(flow);
  ew_pages_next(&flow->pages);
  draw_running_head(flow);
}

void ew_flow_heading(struct ew_flow *flow, const char *text) {
  if (flow->html) {
    ew_flow_html_heading(flow, text);
    return;
  }
  ew_flow_need(flow, 84); /* a heading is not left alone at the foot */
  flow->y += 7;
  flow->y += ew_text(&flow->pages, flow->pages.margin, flow->y, ew_flow_width(flow), 10.5, TRUE,
                     EW_LEFT, ew_black, ew_tr(text)) +
             3;
}

static double text_height(struct ew_flow *flow, double width, double size, gboolean bold,
                          enum ew_align align, const char *text) {
  return ew_text_height(&flow->pages, width, size, bold, align, text);
}

void ew_flow_text(struct ew_flow *flow, double size, gboolean bold, const char *english) {
  const char *text = ew_tr(english);
  if (flow->html) {
    ew_flow_html_text(flow, size, bold, text);
    return;
  }
  double width = ew_flow_width(flow);
  ew_flow_need(flow, text_height(flow, width, size, bold, EW_LEFT, text));
  flow->y += ew_text(&flow->pages, flow->pages.margin, flow->y, width, size, bold, EW_LEFT,
                     ew_black, text) +
             2.5;
}

static void frame(struct ew_flow *flow, double x, double y, double width, double height,
                  double line, struct ew_ink ink) {
  ew_ink_set(&flow->pages, ink, 1);
  cairo_set_line_width(flow->pages.cairo, line);
  cairo_rectangle(flow->pages.cairo, x, y, width, height);
  cairo_stroke(flow->pages.cairo);
}

void ew_flow_caution(struct ew_flow *flow, const char *english) {
  struct ew_pages *p = &flow->pages;
  const char *text = ew_tr(english);
  if (flow->html) {
    ew_flow_html_caution(flow, text);
    return;
  }
  double label = 58, width = ew_flow_width(flow) - label - 16,
         height = fmax(text_height(flow, width, 8.5, FALSE, EW_LEFT, text), 11) + 9;
  ew_flow_need(flow, height + 5);
  frame(flow, p->margin, flow->y, ew_flow_width(flow), height, 1.3, ew_black);
  ew_text(p, p->margin + 7, flow->y + 4.5, 0, 8.5, TRUE, EW_LEFT, ew_black, ew_tr("Caution"));
  ew_text(p, p->margin + label, flow->y + 4.5, width, 8.5, FALSE, EW_LEFT, ew_black, text);
  flow->y += height + 5;
}

gboolean ew_pair_is_typed(const char *label) {
  static const char *const typed[] = {"engine", "serial",    "for",     "equipment fitted",
                                      "set-up", "pulls",     "cell",    "build",
                                      "family", "materials", "rockers", NULL};
  return g_strv_contains(typed, label);
}

void ew_flow_pairs(struct ew_flow *flow, const GPtrArray *pairs) {
  if (flow->html) {
    ew_flow_html_pairs(flow, pairs);
    return;
  }
  struct ew_pages *p = &flow->pages;
  double half = ew_flow_width(flow) / 2, left = flow->y, right = flow->y;
  guint shown = 0, total = 0;
  for (guint i = 0; i + 1 < pairs->len; i += 2)
    total += pairs->pdata[i + 1] && *(char *)pairs->pdata[i + 1];
  for (guint i = 0; i + 1 < pairs->len; i += 2) {
    const char *value = pairs->pdata[i + 1];
    if (!value || !*value)
      continue;
    gboolean second = shown++ >= (total + 1) / 2;
    double *y = second ? &right : &left, x = p->margin + (second ? half + 6 : 0);
    double label = ew_text(p, x, *y, 92, 8, FALSE, EW_LEFT, ew_grey, ew_tr(pairs->pdata[i]));
    enum ew_align align = ew_pair_is_typed(pairs->pdata[i]) ? EW_OWN : EW_LEFT;
    double height = ew_text(p, x + 96, *y, half - 104, 8, FALSE, align, ew_black, value);
    *y += fmax(fmax(height, label), 10) + 2;
  }
  flow->y = fmax(left, right) + 2;
}

struct table {
  const struct ew_flow_column *columns;
  guint count;
  double size, height, total;
};

static double column_width(const struct ew_flow *flow, const struct table *t, guint k) {
  g_assert(k < t->count);
  return ew_flow_width(flow) * t->columns[k].share / t->total;
}

static void table_head(struct ew_flow *flow, const struct table *t) {
  struct ew_pages *p = &flow->pages;
  double x = p->margin, height = 0;
  for (guint k = 0; k < t->count; k++)
    height = fmax(height, text_height(flow, column_width(flow, t, k) - 6, t->size * 0.92, TRUE,
                                      EW_LEFT, ew_tr(t->columns[k].head)));
  for (guint k = 0; k < t->count; x += column_width(flow, t, k), k++)
    ew_text(p, x + 3, flow->y, column_width(flow, t, k) - 6, t->size * 0.92, TRUE,
            t->columns[k].align == EW_OWN ? EW_LEFT : t->columns[k].align, ew_black,
            ew_tr(t->columns[k].head));
  flow->y += height + 2;
  ew_line(p, p->margin, flow->y, p->width - p->margin, flow->y, 0.9, ew_black);
}

static double row_height(struct ew_flow *flow, const struct table *t, gpointer *cells) {
  double height = t->height > 0 ? t->height : t->size * 1.5;
  for (guint k = 0; k < t->count; k++) {
    const char *text = cells[k];
    if (text && *text)
      height = fmax(height, text_height(flow, column_width(flow, t, k) - 6, t->size, *text == '!',
                                        t->columns[k].align, *text == '!' ? text + 1 : text) +
                                4);
  }
  return height;
}

static void table_row(struct ew_flow *flow, const struct table *t, gpointer *cells, double height) {
  struct ew_pages *p = &flow->pages;
  double x = p->margin;
  for (guint k = 0; k < t->count; k++) {
    double width = column_width(flow, t, k);
    const char *text = cells[k];
    if (!text)
      frame(flow, x + 3, flow->y + 3, width - 6, height - 6, 0.9, ew_black);
    else if (*text) {
      gboolean bold = *text == '!';
      double high =
          text_height(flow, width - 6, t->size, bold, t->columns[k].align, bold ? text + 1 : text);
      ew_text(p, x + 3, flow->y + (height - high) / 2, width - 6, t->size, bold,
              t->columns[k].align, ew_black, bold ? text + 1 : text);
    }
    x += width;
  }
  flow->y += height;
  ew_line(p, p->margin, flow->y, p->width - p->margin, flow->y, 0.35, ew_pale);
}

static double rest_height(struct ew_flow *flow, const struct table *t, const GPtrArray *cells,
                          guint from) {
  double height = 0;
  for (guint i = from; i + t->count <= cells->len; i += t->count)
    height += row_height(flow, t, cells->pdata + i);
  return height;
}

void ew_flow_table(struct ew_flow *flow, const struct ew_flow_column *columns, guint count,
                   const GPtrArray *cells, double size, double height) {
  g_assert(columns && count > 0);
  if (flow->html) {
    ew_flow_html_table(flow, columns, count, cells);
    return;
  }
  struct table t = {columns, count, size, height, 0};
  for (guint k = 0; k < count; k++)
    t.total += columns[k].share;
  g_assert(t.total > 0 && flow->keep >= 0 && flow->keep < flow->pages.height);
  ew_flow_need(flow, 40 + height);
  table_head(flow, &t);
  for (guint i = 0; i + count <= cells->len; i += count) {
    double high = row_height(flow, &t, cells->pdata + i);
    int page = flow->pages.page;
    /* the last rows go over together, and with what is to stand under them */
    ew_flow_need(flow, i + LAST_ROWS * count == cells->len
                           ? rest_height(flow, &t, cells, i) + flow->keep
                           : high);
    if (flow->pages.page != page)
      table_head(flow, &t);
    table_row(flow, &t, cells->pdata + i, high);
  }
  flow->y += 4;
}
