/* One drawing in SVG 1.1 among tables; head, foot and looks are those of every sheet (html.h). */
#include "sheet/report_html.h"
#include "base/language.h"
#include "base/number.h"
#include "base/words.h"
#include "base/error.h"
#include "sheet/html.h"
#include "sheet/plot.h"
#include "sheet/report_mean.h"
#include <math.h>
#include <string.h>

#define WIDTH     760.0
#define HEIGHT    380.0
#define LEFT      58.0
#define RIGHT     58.0
#define TOP       14.0
#define BOTTOM    44.0
#define DOTS_MOST 400

/* What a program reads again: coordinates, attributes. The same in every language. */
#define EXACT(to, ...)                                                                             \
  G_STMT_START {                                                                                   \
    g_autofree char *exact = ew_exact(__VA_ARGS__);                                                \
    g_string_append(to, exact);                                                                    \
  }                                                                                                \
  G_STMT_END

#define LINES_MOST  5 /* of notices, and of what was found, so that one page holds them */
#define LINES_TIGHT 2 /* where much else was written */

static void put_cut(GString *to, const char *before, const char *text, const char *after) {
  g_autofree char *cut = ew_html_cut(text, EW_REPORT_VALUE_CHARS);
  ew_html_put(to, before, cut, after);
}

static void put_pairs(const GArray *pairs, enum ew_report_reader reader, GString *to) {
  g_string_append(to, "<dl>");
  for (guint i = 0; i < pairs->len; i++) {
    const struct ew_report_pair *pair = &g_array_index(pairs, struct ew_report_pair, i);
    if (!ew_report_pair_is_of(pair, reader))
      continue;
    ew_html_put(to, "<div><dt>", ew_tr(pair->label), "</dt>");
    (reader == EW_REPORT_CUSTOMER ? put_cut : ew_html_put)(to, "<dd>", pair->value, "</dd></div>");
  }
  g_string_append(to, "</dl>\n");
}

static void put_some(const char *heading, const GPtrArray *lines, guint most, const char *kind,
                     GString *to) {
  if (lines->len == 0)
    return;
  ew_html_put(to, "<section><h2>", ew_tr(heading), "</h2>");
  g_string_append_printf(to, "<ul class=\"%s\">", kind);
  for (guint i = 0; i < MIN(lines->len, most); i++)
    put_cut(to, "<li>", g_ptr_array_index(lines, i), "</li>");
  guint more = lines->len - MIN(lines->len, most);
  g_autofree char *rest = ew_words(
      ew_tr_many("%u more remark in the shop's copy.", "%u more remarks in the shop's copy.", more),
      more);
  if (more)
    ew_html_put(to, "<li>", rest, "</li>");
  g_string_append(to, "</ul></section>\n");
}

static void put_promises(const struct ew_report *r, GString *to) {
  const char *heads[] = {EW_TEXT("agreed"), EW_TEXT("promised"), EW_TEXT("proved"),
                         EW_TEXT("answer")};
  if (r->promises->len == 0)
    return;
  g_string_append(to, "<table class=\"promise\"><thead><tr>");
  for (gsize c = 0; c < G_N_ELEMENTS(heads); c++)
    ew_html_put(to, "<th scope=\"col\">", ew_tr(heads[c]), "</th>");
  g_string_append(to, "</tr></thead><tbody>");
  for (guint i = 0; i < r->promises->len; i++) {
    const struct ew_report_promise *one = &g_array_index(r->promises, struct ew_report_promise, i);
    ew_html_put(to, "<tr><th scope=\"row\">", one->what, "</th>");
    ew_html_put(to, "<td>", one->promised, "</td>");
    ew_html_put(to, "<td><b>", one->proved, "</b></td>");
    ew_html_put(to, "<td><b>", one->answer, "</b></td></tr>");
  }
  g_string_append(to, "</tbody></table>\n");
}

static void put_list(const char *heading, const GPtrArray *lines, const char *kind, GString *to) {
  if (!lines || lines->len == 0)
    return;
  ew_html_put(to, "<section><h2>", ew_tr(heading), "</h2>");
  g_string_append_printf(to, "<ul class=\"%s\">", kind);
  for (guint i = 0; i < lines->len; i++)
    ew_html_put(to, "<li>", g_ptr_array_index(lines, i), "</li>");
  g_string_append(to, "</ul></section>\n");
}

struct frame {
  struct ew_plot_axis bottom, left, right;
};

static double across(const struct frame *f, double speed) {
  return LEFT + (WIDTH - LEFT - RIGHT) * (speed - f->bottom.low) / (f->bottom.high - f->bottom.low);
}
static double down(const struct ew_plot_axis *axis, double value) {
  return HEIGHT - BOTTOM - (HEIGHT - TOP - BOTTOM) * (value - axis->low) / (axis->high - axis->low);
}

static void put_line(const struct frame *f, const struct ew_plot_axis *axis, const char *kind,
                     const double *x, const double *y, gsize n, GString *to) {
  g_string_append_printf(to, "<polyline class=\"%s\" points=\"", kind);
  for (gsize i = 0; i < n; i++)
    if (!isnan(y[i]))
      EXACT(to, "%.1f,%.1f ", across(f, x[i]), down(axis, y[i]));
  g_string_append(to, "\"/>");
}

static const char *tick(const struct ew_plot_axis *axis, double value, char text[EW_NUMBER_SIZE]) {
  return ew_number_shown(value, axis->step < 0.1 ? 2 : axis->step < 1 ? 1 : 0, text);
}

static void put_axes(const struct frame *f, GString *to) {
  char text[EW_NUMBER_SIZE];
  for (double v = f->bottom.low; v <= f->bottom.high + 1e-9; v += f->bottom.step)
    EXACT(to,
          "<line class=\"grid\" x1=\"%.1f\" x2=\"%.1f\" y1=\"%.1f\" y2=\"%.1f\"/>"
          "<text x=\"%.1f\" y=\"%.1f\" text-anchor=\"middle\">%s</text>",
          across(f, v), across(f, v), TOP, HEIGHT - BOTTOM, across(f, v), HEIGHT - BOTTOM + 16,
          tick(&f->bottom, v, text));
  for (double v = f->left.low; v <= f->left.high + 1e-9; v += f->left.step)
    EXACT(to,
          "<line class=\"grid\" x1=\"%.1f\" x2=\"%.1f\" y1=\"%.1f\" y2=\"%.1f\"/>"
          "<text x=\"%.1f\" y=\"%.1f\" text-anchor=\"end\">%s</text>",
          LEFT, WIDTH - RIGHT, down(&f->left, v), down(&f->left, v), LEFT - 6,
          down(&f->left, v) + 4, tick(&f->left, v, text));
  for (double v = f->right.low; v <= f->right.high + 1e-9; v += f->right.step)
    EXACT(to, "<text x=\"%.1f\" y=\"%.1f\">%s</text>", WIDTH - RIGHT + 6, down(&f->right, v) + 4,
          tick(&f->right, v, text));
  EXACT(to, "<text x=\"%.1f\" y=\"%.1f\" text-anchor=\"middle\">%s</text>", WIDTH / 2, HEIGHT - 8,
        f->bottom.label);
}

static void put_dots(const struct ew_report *r, const struct frame *f, GString *to) {
  g_string_append(to, "<path class=\"dots\" d=\"");
  for (guint i = 0; i < r->curves->len; i++) {
    const struct ew_curve *c = g_ptr_array_index(r->curves, i);
    gsize stride = MAX(c->raw_points * r->curves->len / DOTS_MOST, 1);
    for (gsize k = 0; k < c->raw_points; k += stride) {
      double y = ew_shown(EW_KIND_TORQUE, r->units, c->raw_torque_n_m[k]);
      gboolean inside = c->raw_speed_rpm[k] >= f->bottom.low &&
                        c->raw_speed_rpm[k] <= f->bottom.high && y >= f->left.low &&
                        y <= f->left.high;
      if (inside)
        EXACT(to, "M%.1f %.1fh1.6v1.6h-1.6z", across(f, c->raw_speed_rpm[k]) - .8,
              down(&f->left, y) - .8);
    }
  }
  g_string_append(to, "\"/>");
}

static void put_band(const struct ew_report_mean *m, const struct frame *f, GString *to) {
  g_string_append(to, "<polygon class=\"band\" points=\"");
  for (gsize j = 0; j < m->points; j++)
    EXACT(to, "%.1f,%.1f ", across(f, m->speed[j]), down(&f->left, m->high[j]));
  for (gsize j = m->points; j-- > 0;)
    EXACT(to, "%.1f,%.1f ", across(f, m->speed[j]), down(&f->left, m->low[j]));
  g_string_append(to, "\"/>");
}

static struct frame frame_of(const struct ew_report_mean *m) {
  double low = INFINITY, high = 0, power = 0;
  for (gsize j = 0; j < m->points; j++) {
    low = fmin(low, m->torque[j]);
    high = fmax(high, m->torque[j]);
    power = fmax(power, m->power[j]);
  }
  return (struct frame){
      ew_plot_axis(m->speed[0], m->speed[m->points - 1], 8, ew_tr("engine speed, rpm")),
      ew_plot_axis(0.75 * low, 1.06 * high, 7, ""), ew_plot_axis(0, 1.06 * power, 7, "")};
}

static void put_plot(const struct ew_report *r, const struct ew_report_mean *m, GString *to) {
  struct frame f = frame_of(m);
  const char *torque = ew_kind_shown(EW_KIND_TORQUE, r->units),
             *power = ew_kind_shown(EW_KIND_POWER, r->units);
  EXACT(to, "<figure><svg viewBox=\"0 0 %.0f %.0f\" role=\"img\" ", WIDTH, HEIGHT);
  ew_html_put(
      to, "aria-label=\"",
      ew_tr("Corrected torque and power against engine speed; the figures are in the table below"),
      "\">");
  put_axes(&f, to);
  EXACT(to,
        "<clipPath id=\"axes\"><rect x=\"%.1f\" y=\"%.1f\" width=\"%.1f\" "
        "height=\"%.1f\"/></clipPath><g clip-path=\"url(#axes)\">",
        LEFT - 1, TOP - 1, WIDTH - LEFT - RIGHT + 2, HEIGHT - TOP - BOTTOM + 2);
  put_dots(r, &f, to);
  put_band(m, &f, to);
  for (guint i = 0; r->curves->len > 1 && i < r->curves->len; i++) {
    const struct ew_curve *c = g_ptr_array_index(r->curves, i);
    g_autofree double *one = g_new(double, c->points);
    for (gsize k = 0; k < c->points; k++)
      one[k] = ew_shown(EW_KIND_TORQUE, r->units, c->torque_n_m[k]);
    put_line(&f, &f.left, "one", c->speed_rpm, one, c->points, to);
  }
  put_line(&f, &f.left, "torque", m->speed, m->torque, m->points, to);
  put_line(&f, &f.right, "power", m->speed, m->power, m->points, to);
  g_string_append(to, "</g>");
  g_autofree char *left = ew_words("torque, %s (left)", torque),
                  *right = ew_words("power, %s (right)", power);
  EXACT(to, "<text class=\"torque-name\" x=\"%.1f\" y=\"%.1f\">", LEFT + 8,
        down(&f.left, m->torque[0]) - 24);
  ew_html_put(to, "", left, "</text>");
  EXACT(to, "<text class=\"power-name\" x=\"%.1f\" y=\"%.1f\">", across(&f, m->speed[0]) + 10,
        down(&f.right, m->power[0]) + 16);
  ew_html_put(to, "", right, "</text></svg>");
  g_autofree char *caption = ew_report_caption(r);
  ew_html_put(to, "<figcaption>", caption, "</figcaption></figure>\n");
}

static void put_table(const struct ew_report *r, const struct ew_report_mean *m,
                      enum ew_report_reader reader, guint most, GString *to) {
  g_autoptr(GArray) columns = ew_report_columns_for(r, reader), rows = ew_report_rows(m, most);
  ew_html_put(to, "<section><h2>", ew_tr("Corrected figures, mean of the pulls shown"),
              "</h2><div class=\"wide\"><table><thead><tr>");
  for (guint c = 0; c < columns->len; c++) {
    const struct ew_report_column *column = &g_array_index(columns, struct ew_report_column, c);
    g_autofree char *number = column->index ? g_strdup_printf(" %d", column->index) : g_strdup("");
    g_string_append_printf(to, "<th scope=\"col\">%s%s<small>%s</small></th>", ew_tr(column->head),
                           number, ew_kind_shown(column->kind, r->units));
  }
  g_string_append(to, "</tr></thead><tbody>");
  for (guint k = 0; k < rows->len; k++) {
    g_string_append(to, "<tr>");
    for (guint c = 0; c < columns->len; c++) {
      g_autofree char *cell = ew_report_cell(r, m, g_array_index(rows, guint, k),
                                             &g_array_index(columns, struct ew_report_column, c));
      ew_html_put(to, c ? "<td>" : "<th scope=\"row\">", cell, c ? "</td>" : "</th>");
    }
    g_string_append(to, "</tr>");
  }
  g_string_append(to, "</tbody></table></div></section>\n");
}

/* Pictures whose bytes were checked, held in the file. */
static void put_photos(const GArray *photos, GString *to) {
  if (!photos || photos->len == 0)
    return;
  ew_html_put(to, "<section><h2>", ew_tr("Pictures"), "</h2><div class=\"photos\">");
  for (guint i = 0; i < photos->len; i++) {
    const struct ew_report_photo *photo = &g_array_index(photos, struct ew_report_photo, i);
    gsize size;
    const guchar *data = g_bytes_get_data(photo->bytes, &size);
    g_autofree char *base64 = g_base64_encode(data, size);
    ew_html_put(to, "<figure><img alt=\"", photo->caption, "\" ");
    g_string_append_printf(to, "src=\"data:%s;base64,%s\">", photo->media, base64);
    ew_html_put(to, "<figcaption>", photo->caption, "</figcaption></figure>\n");
  }
  g_string_append(to, "</div></section>\n");
}

/* How many lines of print the words take, about: what is left is the curve's and the table's. */
static guint lines_of_words(const struct ew_report *r) {
  gsize lines = r->promises->len + (gsize)g_utf8_strlen(r->head.terms, -1) / 130 +
                (gsize)MIN(g_utf8_strlen(r->head.title, -1), EW_HTML_TITLE_CHARS) / 45 * 2;
  for (guint i = 0; i < r->facts->len; i++) {
    const struct ew_report_pair *pair = &g_array_index(r->facts, struct ew_report_pair, i);
    if (!pair->shop)
      lines += (gsize)MIN(g_utf8_strlen(pair->value, -1), EW_REPORT_VALUE_CHARS) / 38 + 1;
  }
  const GPtrArray *lists[] = {r->notices, r->found};
  for (int k = 0; k < 2; k++)
    for (guint i = 0; i < MIN(lists[k]->len, LINES_MOST); i++)
      lines += (gsize)g_utf8_strlen(g_ptr_array_index(lists[k], i), -1) / 105 + 1;
  return (guint)lines;
}

#define WORDS_FEW  28 /* lines with which the whole table stands on one page */
#define WORDS_MANY 36 /* more: a small curve and no table */

static void put_customer(const struct ew_report *r, const struct ew_report_mean *m, GString *to) {
  guint lines = lines_of_words(r), rows = lines <= WORDS_FEW ? EW_REPORT_ROWS_CUSTOMER : 5;
  g_string_append(to, lines > WORDS_MANY ? "<div class=\"customer tight\">"
                                         : "<div class=\"customer\">");
  put_pairs(r->facts, EW_REPORT_CUSTOMER, to);
  put_promises(r, to);
  for (guint i = 0; i < r->results->len; i++)
    ew_html_put(to, i < 2 ? "<p class=\"result\">" : "<p>", g_ptr_array_index(r->results, i),
                "</p>\n");
  if (m->points > 1) {
    put_plot(r, m, to);
    if (lines <= WORDS_MANY || r->columns)
      put_table(r, m, EW_REPORT_CUSTOMER, rows, to);
  }
  put_some(EW_TEXT("What the figures rest on"), r->notices, LINES_MOST, "mind", to);
  put_some(EW_TEXT("What was found"), r->found, lines > WORDS_MANY ? LINES_TIGHT : LINES_MOST,
           "plain", to);
  ew_html_put(to, "<div class=\"sign\"><p>", ew_tr("for the shop: name, date, signature"), "</p>");
  ew_html_put(to, "<p>", ew_tr("received by: name, date, signature"), "</p></div></div>\n");
}

static void put_appendix(const struct ew_report *r, const struct ew_report_mean *m, GString *to) {
  ew_html_put(to, "<div class=\"next\"><h1>", ew_tr("Appendix for the shop"), "</h1>");
  put_pairs(r->facts, EW_REPORT_SHOP, to);
  if (m->points > 1)
    put_table(r, m, EW_REPORT_SHOP, EW_REPORT_ROWS, to);
  put_list(EW_TEXT("Cautions"), r->cautions, "mind", to);
  put_list(EW_TEXT("What was found"), r->found, "plain", to);
  put_list(EW_TEXT("What was changed, and what it did"), r->changes, "plain", to);
  if (r->budget && r->budget->len) {
    ew_html_put(to, "<section><h2>", ew_tr("Uncertainty of torque at its peak"), "</h2>");
    put_pairs(r->budget, EW_REPORT_CUSTOMER, to);
    g_string_append(to, "</section>");
  }
  put_list(EW_TEXT("Raw data (SHA-256)"), r->digests, "plain", to);
  g_string_append(to, "</div>\n");
}

gboolean ew_report_write_html(const struct ew_report *r, const char *path, enum ew_paper paper,
                              GError **error) {
  g_autoptr(GString) to = g_string_new(NULL);
  g_autoptr(GError) problem = NULL;
  struct ew_report_mean m = ew_report_mean_of(r);
  ew_html_head(&r->head, paper, to);
  g_string_append(to, "<main>");
  put_customer(r, &m, to);
  ew_html_foot(&r->head, to);
  if (r->photos && r->photos->len) {
    g_string_append(to, "<div class=\"next\">");
    put_photos(r->photos, to);
    g_string_append(to, "</div>");
  }
  if (r->reader == EW_REPORT_SHOP)
    put_appendix(r, &m, to);
  g_string_append(to, "</main></body></html>\n");
  ew_report_mean_clear(&m);
  return g_file_set_contents(path, to->str, (gssize)to->len, &problem) ||
         ew_fail(error, "%s", problem->message);
}
