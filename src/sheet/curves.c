/* Draws curves over speed with their own dash and a label at the end of each line, so that they are told apart
 * without colour. */
#include "sheet/curves.h"
#include "base/language.h"
#include "base/words.h"
#include "sheet/plot.h"
#include <math.h>

static struct ew_plot frame_of(const struct ew_pages *p, const struct ew_curves *c,
                               const char *label) {
  g_assert(c->curves > 0 && c->points > 0);
  double low = INFINITY, high = 0;
  for (gsize k = 0; k < c->curves; k++)
    for (gsize i = 0; i < c->points; i++) {
      double shown = ew_shown(EW_KIND_TORQUE, c->units, c->torque_n_m[k][i]);
      low = fmin(low, shown);
      high = fmax(high, shown);
    }
  return (struct ew_plot){
      p->margin + 30,
      p->margin + 70,
      p->width - 2 * p->margin - 40,
      420,
      ew_plot_axis(c->speed_rpm[0], c->speed_rpm[c->points - 1], 8, ew_tr("engine speed, rpm")),
      ew_plot_axis(0.97 * low, 1.03 * high, 8, label),
      {0}};
}

static void draw_lines(struct ew_pages *p, const struct ew_curves *c, const struct ew_plot *plot) {
  static const double dashes[] = {0, 7, 2.5, 11, 4.5, 1.5};
  const struct ew_ink inks[] = {ew_black, ew_blue, ew_ochre, ew_green};
  g_autofree double *shown = g_new(double, c->points);
  for (gsize k = 0; k < c->curves; k++) {
    struct ew_ink ink = inks[k % G_N_ELEMENTS(inks)];
    double dash = dashes[k % G_N_ELEMENTS(dashes)],
           y = plot->y + plot->height + 40 + 12 * (double)k;
    for (gsize i = 0; i < c->points; i++)
      shown[i] = ew_shown(EW_KIND_TORQUE, c->units, c->torque_n_m[k][i]);
    ew_plot_line(p, plot, FALSE, c->speed_rpm, shown, c->points, k ? 1.3 : 2, dash, ink);
    ew_ink_set(p, ink, 1);
    cairo_set_line_width(p->cairo, k ? 1.3 : 2);
    if (dash > 0)
      cairo_set_dash(p->cairo, &dash, 1, 0);
    cairo_move_to(p->cairo, plot->x, y + 5);
    cairo_line_to(p->cairo, plot->x + 34, y + 5);
    cairo_stroke(p->cairo);
    cairo_set_dash(p->cairo, NULL, 0, 0);
    ew_text(p, plot->x + 42, y, 0, 8, k == 0, EW_LEFT, ew_black, c->labels[k]);
  }
}

gboolean ew_curves_draw(const struct ew_curves *c, const char *path, enum ew_format format,
                        enum ew_paper paper, const char *stamp, GError **error) {
  struct ew_pages pages, *p = &pages;
  ew_pages_open(p, path, format, paper, c->title, stamp);
  ew_pages_next(p);
  ew_text(p, p->margin, p->margin, p->width - 2 * p->margin, 17, TRUE, EW_LEFT, ew_black, c->title);
  g_autofree char *label = ew_words("torque, %s", ew_kind_shown(EW_KIND_TORQUE, c->units));
  struct ew_plot plot = frame_of(p, c, label);
  ew_plot_frame(p, &plot);
  draw_lines(p, c, &plot);
  ew_text(p, p->margin, p->height - 60, p->width - 2 * p->margin, 7, FALSE, EW_LEFT, ew_grey,
          c->caption);
  return ew_pages_close(p, error);
}
