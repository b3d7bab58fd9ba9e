/* Draws the test report. The customer's page is filled from both ends: head, facts, promise and results from the top;
 * signatures, what was found and notices from the foot; the curve and a short table get what lies between. So it
 * is one page whatever was typed: what is too long is cut, a row of the table goes before a notice does, and notices that do not
 * fit are counted. The appendix flows on from the second page. Reads no book. */
#include "sheet/report.h"
#include "base/language.h"
#include "base/words.h"
#include "sheet/plot.h"
#include "sheet/report_html.h"
#include "sheet/report_mean.h"
#include <math.h>
#include <string.h>

#define FOOT        48.0  /* kept free at the foot of a page */
#define PLOT_LEAST  150.0 /* height of the curve on the customer's page */
#define PLOT_MOST   300.0
#define PLOT_AROUND 62.0 /* axis, labels and caption beside it */
#define HEAD_SIZE   6.6  /* the longest word of a language we have fits a tenth of the page */
#define ROW         11.0 /* of a table */
#define SIGN        44.0 /* lines to sign on */

const char *const ew_report_reader_keys[] = {"customer", "shop", NULL};

gboolean ew_report_reader_find(const char *key, enum ew_report_reader *reader) {
  for (int k = 0; k < EW_REPORT_READERS_COUNT; k++)
    if (strcmp(key, ew_report_reader_keys[k]) == 0) {
      *reader = (enum ew_report_reader)k;
      return TRUE;
    }
  return FALSE;
}

static void pair_clear(void *pair) {
  g_free(((struct ew_report_pair *)pair)->label);
  g_free(((struct ew_report_pair *)pair)->value);
}

static void promise_clear(struct ew_report_promise *p) {
  g_free(p->what);
  g_free(p->promised);
  g_free(p->proved);
  g_free(p->answer);
}

void ew_report_clear(struct ew_report *r) {
  for (guint i = 0; r->promises && i < r->promises->len; i++)
    promise_clear(&g_array_index(r->promises, struct ew_report_promise, i));
  g_clear_pointer(&r->promises, g_array_unref);
  GArray *pairs[] = {r->facts, r->budget};
  for (int k = 0; k < 2; k++)
    if (pairs[k]) {
      for (guint i = 0; i < pairs[k]->len; i++)
        pair_clear(&g_array_index(pairs[k], struct ew_report_pair, i));
      g_array_unref(pairs[k]);
    }
  GPtrArray *lists[] = {r->curves,  r->results, r->changes, r->cautions,
                        r->digests, r->notices, r->found};
  for (gsize k = 0; k < G_N_ELEMENTS(lists); k++)
    if (lists[k])
      g_ptr_array_unref(lists[k]);
}

/* Text of somebody's, cut to so many characters. */
static char *cut(const char *text, glong most) {
  if (g_utf8_strlen(text, -1) <= most)
    return g_strdup(text);
  g_autofree char *begin = g_utf8_substring(text, 0, most - 1);
  return g_strconcat(begin, "…", NULL);
}

static double draw_head(struct ew_pages *p, const struct ew_report *r) {
  double x = p->margin, y = p->margin - 8;
  g_autofree char *shop = cut(r->head.shop, 70), *line = cut(r->head.shop_line, 140);
  y += ew_text(p, x, y, 0, 10, TRUE, EW_OWN, ew_black, shop) + 1;
  if (*line)
    y += ew_text(p, x, y, 300, 7.5, FALSE, EW_OWN, ew_grey, line);
  y += 6;
  g_autofree char *title = cut(r->head.title, 90);
  y += ew_text(p, x, y, p->width - 2 * x - 170, 19, TRUE, EW_LEFT, ew_black, title) + 4;
  ew_logo(p, r->head.logo_png, r->head.logo_bytes);
  y = fmax(y, p->margin + 46);
  ew_line(p, x, y, p->width - x, y, 1.2, ew_black);
  return y + 7;
}

static void draw_foot(struct ew_pages *p, const struct ew_report *r) {
  double y = p->height - 34;
  g_autofree char *day = ew_sheet_day(r->head.stamp), *page = ew_words("page %d", p->page),
                  *made = ew_words("made %s by Enginewright", day);
  ew_line(p, p->margin, y - 4, p->width - p->margin, y - 4, 0.5, ew_grey);
  ew_text(p, p->margin, y, 0, 6.5, FALSE, EW_LEFT, ew_grey, made);
  ew_text(p, p->width - p->margin, y, 0, 6.5, FALSE, EW_RIGHT, ew_grey, page);
}

/* Two columns of label, `wide`, and value, of the pairs for that place. */
static double draw_pairs(struct ew_pages *p, const GArray *pairs, enum ew_report_reader reader,
                         double wide, double y) {
  double half = (p->width - 2 * p->margin) / 2, top = y, lowest = y;
  guint rows = 0, at = 0;
  for (guint i = 0; i < pairs->len; i++)
    rows += ew_report_pair_is_of(&g_array_index(pairs, struct ew_report_pair, i), reader);
  rows = (rows + 1) / 2;
  for (guint i = 0; i < pairs->len; i++) {
    const struct ew_report_pair *pair = &g_array_index(pairs, struct ew_report_pair, i);
    if (!ew_report_pair_is_of(pair, reader))
      continue;
    if (at == rows)
      y = top;
    double x = p->margin + (at++ < rows ? 0 : half + 6);
    g_autofree char *value =
        cut(pair->value, reader == EW_REPORT_CUSTOMER ? EW_REPORT_VALUE_CHARS : G_MAXINT);
    double label = ew_text(p, x, y, wide, 7.5, FALSE, EW_LEFT, ew_grey, ew_tr(pair->label));
    double h = ew_text(p, x + wide + 4, y, half - wide - 12, 7.5, FALSE, EW_LEFT, ew_black, value);
    y += fmax(fmax(h, label), 10) + 2;
    lowest = fmax(lowest, y);
  }
  return lowest;
}

/* Where to go on: here, or on a new page when less than `height` is left. */
static double room(struct ew_pages *p, const struct ew_report *r, double y, double height) {
  if (y + height <= p->height - FOOT)
    return y;
  draw_foot(p, r);
  ew_pages_next(p);
  return p->margin;
}

static double draw_list(struct ew_pages *p, const struct ew_report *r, const char *heading,
                        const GPtrArray *lines, double y) {
  if (!lines || lines->len == 0)
    return y;
  y = room(p, r, y + 6, 40);
  y += ew_text(p, p->margin, y, 0, 9, TRUE, EW_LEFT, ew_black, ew_tr(heading)) + 2;
  for (guint i = 0; i < lines->len; i++) {
    y = room(p, r, y, 62 - FOOT);
    y += ew_text(p, p->margin + 6, y, p->width - 2 * p->margin - 6, 7.5, FALSE, EW_LEFT, ew_black,
                 g_ptr_array_index(lines, i)) +
         1.5;
  }
  return y;
}

static void label_peaks(struct ew_pages *p, const struct ew_plot *plot,
                        const struct ew_report_mean *m) {
  gsize t = 0, w = 0;
  for (gsize j = 1; j < m->points; j++) {
    if (m->torque[j] > m->torque[t])
      t = j;
    if (m->power[j] > m->power[w])
      w = j;
  }
  ew_plot_label(p, plot, FALSE, m->speed[t], m->torque[t], ew_blue, ew_tr("torque"));
  ew_plot_label(p, plot, TRUE, m->speed[w] - 0.04 * (plot->bottom.high - plot->bottom.low),
                m->power[w] * 1.015, ew_ochre, ew_tr("power"));
}

static double draw_curves(struct ew_pages *p, const struct ew_report *r,
                          const struct ew_report_mean *m, double height, double y) {
  double torque_low = INFINITY, torque_high = 0, power_high = 0;
  for (gsize j = 0; j < m->points; j++) {
    torque_low = fmin(torque_low, m->torque[j]);
    torque_high = fmax(torque_high, m->torque[j]);
    power_high = fmax(power_high, m->power[j]);
  }
  g_autofree char *left = ew_words("torque, %s", ew_kind_shown(EW_KIND_TORQUE, r->units));
  g_autofree char *right = ew_words("power, %s", ew_kind_shown(EW_KIND_POWER, r->units));
  struct ew_plot plot = {
      p->margin + 30,
      y + 18,
      p->width - 2 * p->margin - 62,
      height,
      ew_plot_axis(m->speed[0], m->speed[m->points - 1], 8, ew_tr("engine speed, rpm")),
      ew_plot_axis(0.75 * torque_low, 1.06 * torque_high, 7, left),
      ew_plot_axis(0, 1.06 * power_high, 7, right)};
  ew_plot_frame(p, &plot);
  for (guint i = 0; i < r->curves->len; i++) {
    const struct ew_curve *c = g_ptr_array_index(r->curves, i);
    g_autofree double *raw = g_new(double, c->raw_points + 1);
    for (gsize k = 0; k < c->raw_points; k++)
      raw[k] = ew_shown(EW_KIND_TORQUE, r->units, c->raw_torque_n_m[k]);
    ew_plot_dots(p, &plot, c->raw_speed_rpm, raw, c->raw_points, ew_pale);
  }
  for (guint i = 0; r->curves->len > 1 && i < r->curves->len; i++) {
    const struct ew_curve *c = g_ptr_array_index(r->curves, i);
    g_autofree double *one = g_new(double, c->points);
    for (gsize k = 0; k < c->points; k++)
      one[k] = ew_shown(EW_KIND_TORQUE, r->units, c->torque_n_m[k]);
    ew_plot_line(p, &plot, FALSE, c->speed_rpm, one, c->points, 0.5, 0, ew_blue);
  }
  ew_plot_band(p, &plot, FALSE, m->speed, m->low, m->high, m->points, ew_blue);
  ew_plot_line(p, &plot, FALSE, m->speed, m->torque, m->points, 1.9, 0, ew_blue);
  ew_plot_line(p, &plot, TRUE, m->speed, m->power, m->points, 1.7, 6, ew_ochre);
  label_peaks(p, &plot, m);
  g_autofree char *caption = ew_report_caption(r);
  y = plot.y + plot.height + 30;
  return y +
         ew_text(p, p->margin, y, p->width - 2 * p->margin, 7, FALSE, EW_LEFT, ew_grey, caption) +
         3;
}

static void draw_cell(struct ew_pages *p, const struct ew_report *r, const struct ew_report_mean *m,
                      gsize j, const struct ew_report_column *column, double x, double y) {
  g_autofree char *text = ew_report_cell(r, m, j, column);
  ew_text(p, x, y, 0, 8, column->kind == EW_KIND_ROTATIONAL_SPEED, EW_RIGHT, ew_black, text);
}

static double table_height(guint rows) {
  return 27 + ROW * rows;
}

static double draw_table(struct ew_pages *p, const struct ew_report *r,
                         const struct ew_report_mean *m, enum ew_report_reader reader, guint most,
                         double y) {
  g_autoptr(GArray) columns = ew_report_columns_for(r, reader), rows = ew_report_rows(m, most);
  double widths = p->width - 2 * p->margin, each = widths / columns->len;
  for (guint c = 0; c < columns->len; c++) {
    const struct ew_report_column *column = &g_array_index(columns, struct ew_report_column, c);
    double x = p->margin + each * (c + 1) - 8, row = y + 23;
    g_autofree char *head = column->index
                                ? g_strdup_printf("%s %d", ew_tr(column->head), column->index)
                                : g_strdup(ew_tr(column->head));
    double size = columns->len > 12 ? 6.5 : HEAD_SIZE;
    ew_text(p, x, y, 0, size, TRUE, EW_RIGHT, ew_black, head);
    ew_text(p, x, y + 10, 0, 7, FALSE, EW_RIGHT, ew_grey, ew_report_column_unit(column, r->units));
    for (guint k = 0; k < rows->len; k++, row += ROW)
      draw_cell(p, r, m, g_array_index(rows, guint, k), column, x, row);
  }
  for (guint k = 0; k <= rows->len; k += rows->len > 12 ? 4 : rows->len)
    ew_line(p, p->margin, y + 21.5 + ROW * k, p->width - p->margin, y + 21.5 + ROW * k, 0.4,
            ew_pale);
  return y + table_height(rows->len);
}

/* What was promised, beside what was proved. */
static double draw_promises(struct ew_pages *p, const struct ew_report *r, double y) {
  static const double at[] = {0, 0.18, 0.4, 0.76};
  double wide = p->width - 2 * p->margin;
  const char *heads[] = {EW_TEXT("agreed"), EW_TEXT("promised"), EW_TEXT("proved"),
                         EW_TEXT("answer")};
  if (r->promises->len == 0)
    return y;
  for (gsize c = 0; c < G_N_ELEMENTS(at); c++)
    ew_text(p, p->margin + at[c] * wide, y, 0, 7.5, TRUE, EW_LEFT, ew_grey, ew_tr(heads[c]));
  y += 11;
  for (guint i = 0; i < r->promises->len; i++, y += 12) {
    const struct ew_report_promise *one = &g_array_index(r->promises, struct ew_report_promise, i);
    const char *cells[] = {one->what, one->promised, one->proved, one->answer};
    for (gsize c = 0; c < G_N_ELEMENTS(at); c++)
      ew_text(p, p->margin + at[c] * wide, y, 0, 8.5, c > 1, EW_LEFT, ew_black, cells[c]);
  }
  ew_line(p, p->margin, y + 1, p->width - p->margin, y + 1, 0.4, ew_pale);
  return y + 5;
}

/* The headline figures, large. */
static double draw_headline(struct ew_pages *p, const struct ew_report *r, double y) {
  for (guint i = 0; i < r->results->len; i++)
    y += ew_text(p, p->margin, y, p->width - 2 * p->margin, i < 2 ? 11 : 8.5, i < 2, EW_LEFT,
                 ew_black, g_ptr_array_index(r->results, i)) +
         1.5;
  return y + 3;
}

static double list_height(struct ew_pages *p, const GPtrArray *lines, guint count) {
  double height = count ? 19 : 0;
  for (guint i = 0; i < count; i++)
    height += ew_text_height(p, p->width - 2 * p->margin - 6, 7.5, FALSE, EW_LEFT,
                             g_ptr_array_index(lines, i)) +
              1.5;
  return height;
}

static double draw_signatures(struct ew_pages *p, double y) {
  double half = (p->width - 2 * p->margin) / 2;
  const char *who[] = {EW_TEXT("for the shop: name, date, signature"),
                       EW_TEXT("received by: name, date, signature")};
  for (int k = 0; k < 2; k++) {
    double x = p->margin + k * (half + 6);
    ew_line(p, x, y + 26, x + half - 12, y + 26, 0.6, ew_black);
    ew_text(p, x, y + 28, 0, 7, FALSE, EW_LEFT, ew_grey, ew_tr(who[k]));
  }
  return y + SIGN;
}

/* How the space between is shared out. */
struct share {
  guint notices, found, rows;
  double plot;
};

/* Rows of the table go first, then lines of what was found, then notices from the end. */
static struct share share_out(struct ew_pages *p, const struct ew_report *r, gboolean curve,
                              double space) {
  struct share s = {r->notices->len, r->found->len, curve ? EW_REPORT_ROWS_CUSTOMER : 0, 0};
  double least = curve ? PLOT_LEAST + PLOT_AROUND : 0, spare;
  do {
    spare = space - least - (s.rows ? table_height(s.rows) : 0) -
            list_height(p, r->notices, s.notices) - list_height(p, r->found, s.found) -
            (s.notices + s.found < r->notices->len + r->found->len ? 12 : 0);
    if (spare >= 0)
      break;
    if (s.rows)
      s.rows = s.rows > 5 ? s.rows - 1 : 0;
    else if (s.found > 1)
      s.found--;
    else if (s.notices)
      s.notices--;
    else
      s.found = 0;
  } while (s.notices + s.found + s.rows > 0);
  s.plot = fmax(fmin(PLOT_LEAST + fmax(spare, 0), PLOT_MOST), 60);
  return s;
}

static double draw_some(struct ew_pages *p, const char *heading, const GPtrArray *lines,
                        guint count, double y) {
  if (count == 0)
    return y;
  y += ew_text(p, p->margin, y + 6, 0, 9, TRUE, EW_LEFT, ew_black, ew_tr(heading)) + 8;
  for (guint i = 0; i < count; i++)
    y += ew_text(p, p->margin + 6, y, p->width - 2 * p->margin - 6, 7.5, FALSE, EW_LEFT, ew_black,
                 g_ptr_array_index(lines, i)) +
         1.5;
  return y;
}

static void draw_customer(struct ew_pages *p, const struct ew_report *r,
                          const struct ew_report_mean *m) {
  double y = draw_pairs(p, r->facts, EW_REPORT_CUSTOMER, 84, draw_head(p, r)) + 4;
  y = draw_promises(p, r, y);
  y = draw_headline(p, r, y);
  const char *terms = r->head.terms;
  double wide = p->width - 2 * p->margin,
         small = *terms ? ew_text_height(p, wide, 6.5, FALSE, EW_OWN, terms) + 3 : 0,
         foot = p->height - FOOT - small - SIGN;
  struct share s = share_out(p, r, m->points > 1, foot - y);
  if (m->points > 1)
    y = draw_curves(p, r, m, s.plot, y);
  if (s.rows)
    y = draw_table(p, r, m, EW_REPORT_CUSTOMER, s.rows, y + 3);
  y = draw_some(p, EW_TEXT("What the figures rest on"), r->notices, s.notices, y);
  y = draw_some(p, EW_TEXT("What was found"), r->found, s.found, y);
  guint more = r->notices->len - s.notices + r->found->len - s.found;
  g_autofree char *rest = ew_words(
      ew_tr_many("%u more remark in the shop's copy.", "%u more remarks in the shop's copy.", more),
      more);
  if (more)
    ew_text(p, p->margin + 6, y, 0, 7.5, TRUE, EW_LEFT, ew_black, rest);
  draw_signatures(p, foot);
  if (*terms)
    ew_text(p, p->margin, foot + SIGN, wide, 6.5, FALSE, EW_OWN, ew_grey, terms);
  draw_foot(p, r);
}

static void draw_appendix(struct ew_pages *p, const struct ew_report *r,
                          const struct ew_report_mean *m) {
  ew_pages_next(p);
  double y = p->margin;
  y += ew_text(p, p->margin, y, 0, 12, TRUE, EW_LEFT, ew_black, ew_tr("Appendix for the shop")) + 4;
  y = draw_pairs(p, r->facts, EW_REPORT_SHOP, 84, y);
  if (m->points > 1) {
    y += ew_text(p, p->margin, y + 4, 0, 9, TRUE, EW_LEFT, ew_black,
                 ew_tr("Corrected figures, mean of the pulls shown")) +
         10;
    y = draw_table(p, r, m, EW_REPORT_SHOP, EW_REPORT_ROWS, y);
  }
  y = draw_list(p, r, EW_TEXT("Cautions"), r->cautions, y);
  y = draw_list(p, r, EW_TEXT("What was found"), r->found, y);
  y = draw_list(p, r, EW_TEXT("What was changed, and what it did"), r->changes, y);
  if (r->budget && r->budget->len) {
    y = room(p, r, y + 8, 40 + 13.0 * (r->budget->len + 1) / 2);
    y += ew_text(p, p->margin, y, 0, 9, TRUE, EW_LEFT, ew_black,
                 ew_tr("Uncertainty of torque at its peak")) +
         3;
    y = draw_pairs(p, r->budget, EW_REPORT_CUSTOMER, 140, y);
  }
  draw_list(p, r, EW_TEXT("Raw data (SHA-256)"), r->digests, y);
  draw_foot(p, r);
}

gboolean ew_report_draw(const struct ew_report *r, const char *path, enum ew_format format,
                        enum ew_paper paper, GError **error) {
  struct ew_pages pages, *p = &pages;
  if (format == EW_FORMAT_HTML)
    return ew_report_write_html(r, path, paper, error);
  ew_pages_open(p, path, format, paper, r->head.title, r->head.stamp);
  ew_pages_next(p);
  struct ew_report_mean m = ew_report_mean_of(r);
  draw_customer(p, r, &m);
  if (r->reader == EW_REPORT_SHOP)
    draw_appendix(p, r, &m);
  ew_report_mean_clear(&m);
  return ew_pages_close(p, error);
}
