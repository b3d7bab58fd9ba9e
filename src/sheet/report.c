/* Draws the test report in the order of its paper: head, facts, results, plot, table, changes, cautions, budget,
 * digests. Reads no book. */
#include "sheet/report.h"
#include "base/language.h"
#include "base/words.h"
#include "sheet/plot.h"
#include "sheet/report_html.h"
#include "sheet/report_mean.h"
#include <math.h>
#include <string.h>

#define FOOT 48.0 /* kept free at the foot of a page */

static void pair_clear(void *pair) {
  g_free(((struct ew_report_pair *)pair)->label);
  g_free(((struct ew_report_pair *)pair)->value);
}

void ew_report_clear(struct ew_report *r) {
  GArray *pairs[] = {r->facts, r->budget};
  for (int k = 0; k < 2; k++)
    if (pairs[k]) {
      for (guint i = 0; i < pairs[k]->len; i++)
        pair_clear(&g_array_index(pairs[k], struct ew_report_pair, i));
      g_array_unref(pairs[k]);
    }
  GPtrArray *lists[] = {r->curves, r->results, r->changes, r->cautions, r->digests};
  for (gsize k = 0; k < G_N_ELEMENTS(lists); k++)
    if (lists[k])
      g_ptr_array_unref(lists[k]);
}

static double draw_head(struct ew_pages *p, const struct ew_report *r) {
  double x = p->margin, y = p->margin - 8;
  y += ew_text(p, x, y, 0, 10, TRUE, EW_LEFT, ew_black, r->head.shop) + 1;
  if (*r->head.shop_line)
    y += ew_text(p, x, y, 300, 7.5, FALSE, EW_LEFT, ew_grey, r->head.shop_line);
  y += 6;
  y += ew_text(p, x, y, p->width - 2 * x - 170, 19, TRUE, EW_LEFT, ew_black, r->head.title) + 4;
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

/* Two columns of label, `wide`, and value. */
static double draw_pairs(struct ew_pages *p, const GArray *pairs, double wide, double y) {
  double half = (p->width - 2 * p->margin) / 2, top = y, lowest = y;
  guint rows = (pairs->len + 1) / 2;
  for (guint i = 0; i < pairs->len; i++) {
    const struct ew_report_pair *pair = &g_array_index(pairs, struct ew_report_pair, i);
    if (i == rows)
      y = top;
    double x = p->margin + (i < rows ? 0 : half + 6);
    double label = ew_text(p, x, y, wide, 7.5, FALSE, EW_LEFT, ew_grey, ew_tr(pair->label));
    double h =
        ew_text(p, x + wide + 4, y, half - wide - 12, 7.5, FALSE, EW_LEFT, ew_black, pair->value);
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
                          const struct ew_report_mean *m, double y) {
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
      330,
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

#define HEAD_SIZE 6.6 /* the longest word of a language we have fits a tenth of the page */

static void draw_cell(struct ew_pages *p, const struct ew_report *r, const struct ew_report_mean *m,
                      gsize j, const struct ew_report_column *column, double x, double y) {
  g_autofree char *text = ew_report_cell(r, m, j, column);
  ew_text(p, x, y, 0, 8, column->kind == EW_KIND_ROTATIONAL_SPEED, EW_RIGHT, ew_black, text);
}

static double draw_table(struct ew_pages *p, const struct ew_report *r,
                         const struct ew_report_mean *m, double y) {
  double widths = p->width - 2 * p->margin;
  guint count = 0, at = 0;
  for (gsize c = 0; c < ew_report_columns_count; c++)
    count += ew_report_has(r, &ew_report_columns[c]);
  double each = widths / count;
  gsize stride = ew_report_stride(m);
  for (gsize c = 0; c < ew_report_columns_count; c++) {
    const struct ew_report_column *column = &ew_report_columns[c];
    if (!ew_report_has(r, column))
      continue;
    double x = p->margin + each * ++at - 8;
    const char *unit = ew_kind_shown(column->kind, r->units);
    ew_text(p, x, y + 1, 0, HEAD_SIZE, TRUE, EW_RIGHT, ew_black, ew_tr(column->head));
    ew_text(p, x, y + 10, 0, 7, FALSE, EW_RIGHT, ew_grey, *unit ? unit : "-");
    double row = y + 24;
    for (gsize j = 0; j < m->points; j += stride, row += 12)
      draw_cell(p, r, m, j, column, x, row);
  }
  gsize rows = (m->points + stride - 1) / stride;
  for (gsize k = 0; k <= rows; k += 4)
    ew_line(p, p->margin, y + 22.5 + 12.0 * (double)k, p->width - p->margin,
            y + 22.5 + 12.0 * (double)k, 0.4, ew_pale);
  return y + 26 + 12.0 * (double)rows;
}

gboolean ew_report_draw(const struct ew_report *r, const char *path, enum ew_format format,
                        enum ew_paper paper, GError **error) {
  struct ew_pages pages, *p = &pages;
  if (format == EW_FORMAT_HTML)
    return ew_report_write_html(r, path, error);
  ew_pages_open(p, path, format, paper, r->head.title, r->head.stamp);
  ew_pages_next(p);
  struct ew_report_mean m = ew_report_mean_of(r);
  double y = draw_pairs(p, r->facts, 84, draw_head(p, r));
  if (m.points > 1)
    y = draw_curves(p, r, &m, y + 4);
  y = draw_list(p, r, EW_TEXT("Result"), r->results, y);
  y = draw_list(p, r, EW_TEXT("Cautions"), r->cautions, y);
  draw_foot(p, r);
  ew_pages_next(p);
  y = p->margin;
  if (m.points > 1) {
    y += ew_text(p, p->margin, y, 0, 9, TRUE, EW_LEFT, ew_black,
                 ew_tr("Corrected figures, mean of the pulls shown")) +
         6;
    y = draw_table(p, r, &m, y);
  }
  y = draw_list(p, r, EW_TEXT("What was changed, and what it did"), r->changes, y);
  if (r->budget && r->budget->len) {
    y = room(p, r, y + 8, 40 + 13.0 * (r->budget->len + 1) / 2);
    y += ew_text(p, p->margin, y, 0, 9, TRUE, EW_LEFT, ew_black,
                 ew_tr("Uncertainty of torque at its peak")) +
         3;
    y = draw_pairs(p, r->budget, 140, y);
  }
  y = draw_list(p, r, EW_TEXT("Raw data (SHA-256)"), r->digests, y);
  if (*r->head.terms)
    ew_text(p, p->margin, y + 8, p->width - 2 * p->margin, 7, FALSE, EW_LEFT, ew_grey,
            r->head.terms);
  draw_foot(p, r);
  ew_report_mean_clear(&m);
  return ew_pages_close(p, error);
}
