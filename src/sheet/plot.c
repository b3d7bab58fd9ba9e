/* Axes with round divisions, their labels, and lines within them. NaN breaks a line; what lies outside the axes is
 * clipped. */
#include "sheet/plot.h"
#include "base/number.h"
#include <math.h>

struct ew_plot_axis ew_plot_axis(double low, double high, int divisions, const char *label) {
  g_assert(divisions > 0);
  double span = high > low ? high - low : 1, raw = span / divisions,
         power = pow(10, floor(log10(raw)));
  double step = raw / power > 5   ? 10 * power
                : raw / power > 2 ? 5 * power
                : raw / power > 1 ? 2 * power
                                  : power;
  return (struct ew_plot_axis){floor(low / step + 1e-9) * step, ceil(high / step - 1e-9) * step,
                               step, label};
}

static double map_x(const struct ew_plot *p, double x) {
  return p->x + p->width * (x - p->bottom.low) / (p->bottom.high - p->bottom.low);
}

static double map_y(const struct ew_plot *p, gboolean right, double y) {
  const struct ew_plot_axis *axis = right ? &p->right : &p->left;
  return p->y + p->height * (1 - (y - axis->low) / (axis->high - axis->low));
}

static char *tick_text(const struct ew_plot_axis *axis, double value) {
  if (axis->high >= 1000)
    return ew_number_thousands(value);
  char buffer[EW_NUMBER_SIZE];
  int decimals = axis->step < 0.1 ? 2 : axis->step < 1 ? 1 : 0;
  return g_strdup(ew_number_shown(value, decimals, buffer));
}

void ew_plot_frame(struct ew_pages *pages, const struct ew_plot *p) {
  for (double x = p->bottom.low; x <= p->bottom.high + 1e-6; x += p->bottom.step) {
    g_autofree char *text = tick_text(&p->bottom, x);
    ew_line(pages, map_x(p, x), p->y, map_x(p, x), p->y + p->height, 0.4, ew_pale);
    ew_text(pages, map_x(p, x), p->y + p->height + 4, 0, 7.5, FALSE, EW_CENTRE, ew_black, text);
  }
  for (double y = p->left.low; y <= p->left.high + 1e-6; y += p->left.step) {
    g_autofree char *text = tick_text(&p->left, y);
    ew_line(pages, p->x, map_y(p, FALSE, y), p->x + p->width, map_y(p, FALSE, y), 0.4, ew_pale);
    ew_text(pages, p->x - 5, map_y(p, FALSE, y) - 5, 0, 7.5, FALSE, EW_RIGHT, ew_black, text);
  }
  for (double y = p->right.low; p->right.step > 0 && y <= p->right.high + 1e-6;
       y += p->right.step) {
    g_autofree char *text = tick_text(&p->right, y);
    ew_line(pages, p->x + p->width, map_y(p, TRUE, y), p->x + p->width + 3, map_y(p, TRUE, y), 0.6,
            ew_grey);
    ew_text(pages, p->x + p->width + 6, map_y(p, TRUE, y) - 5, 0, 7.5, FALSE, EW_LEFT, ew_black,
            text);
  }
  ew_line(pages, p->x, p->y + p->height, p->x + p->width, p->y + p->height, 0.8, ew_black);
  ew_line(pages, p->x, p->y, p->x, p->y + p->height, 0.8, ew_black);
  ew_text(pages, p->x + p->width / 2, p->y + p->height + 16, 0, 8, FALSE, EW_CENTRE, ew_black,
          p->bottom.label);
  ew_text(pages, p->x - 30, p->y - 15, 0, 8, TRUE, EW_LEFT, ew_blue, p->left.label);
  if (p->right.step > 0)
    ew_text(pages, p->x + p->width + 30, p->y - 15, 0, 8, TRUE, EW_RIGHT, ew_ochre, p->right.label);
}

/* What lies beyond the axes is not drawn over the figures beside them; a line on the edge keeps its
 * width. Undone by cairo_restore. */
static void clip_to(struct ew_pages *pages, const struct ew_plot *p, double width) {
  cairo_save(pages->cairo);
  cairo_rectangle(pages->cairo, p->x - width, p->y - width, p->width + 2 * width,
                  p->height + 2 * width);
  cairo_clip(pages->cairo);
}

void ew_plot_line(struct ew_pages *pages, const struct ew_plot *p, gboolean right, const double *x,
                  const double *y, gsize n, double width, double dash, struct ew_ink ink) {
  g_assert(n == 0 || (x && y));
  ew_ink_set(pages, ink, 1);
  clip_to(pages, p, width);
  cairo_set_line_width(pages->cairo, width);
  cairo_set_line_join(pages->cairo, CAIRO_LINE_JOIN_ROUND);
  if (dash > 0)
    cairo_set_dash(pages->cairo, &dash, 1, 0);
  gboolean down = FALSE;
  for (gsize i = 0; i < n; i++) {
    if (isnan(y[i]) || isnan(x[i])) {
      down = FALSE;
      continue;
    }
    if (down)
      cairo_line_to(pages->cairo, map_x(p, x[i]), map_y(p, right, y[i]));
    else
      cairo_move_to(pages->cairo, map_x(p, x[i]), map_y(p, right, y[i]));
    down = TRUE;
  }
  cairo_stroke(pages->cairo);
  cairo_set_dash(pages->cairo, NULL, 0, 0);
  cairo_restore(pages->cairo);
}

void ew_plot_dots(struct ew_pages *pages, const struct ew_plot *p, const double *x, const double *y,
                  gsize n, struct ew_ink ink) {
  g_assert(n == 0 || (x && y));
  ew_ink_set(pages, ink, 0.55);
  clip_to(pages, p, 0);
  for (gsize i = 0; i < n; i++) {
    cairo_rectangle(pages->cairo, map_x(p, x[i]) - 0.4, map_y(p, FALSE, y[i]) - 0.4, 0.8, 0.8);
    cairo_fill(pages->cairo);
  }
  cairo_restore(pages->cairo);
}

void ew_plot_band(struct ew_pages *pages, const struct ew_plot *p, gboolean right, const double *x,
                  const double *low, const double *high, gsize n, struct ew_ink ink) {
  g_assert(n == 0 || (x && low && high));
  ew_ink_set(pages, ink, 0.16);
  clip_to(pages, p, 0);
  for (gsize i = 0; i < n; i++)
    cairo_line_to(pages->cairo, map_x(p, x[i]), map_y(p, right, high[i]));
  for (gsize i = n; i-- > 0;)
    cairo_line_to(pages->cairo, map_x(p, x[i]), map_y(p, right, low[i]));
  cairo_close_path(pages->cairo);
  cairo_fill(pages->cairo);
  cairo_restore(pages->cairo);
}

void ew_plot_label(struct ew_pages *pages, const struct ew_plot *p, gboolean right, double x,
                   double y, struct ew_ink ink, const char *text) {
  ew_text(pages, map_x(p, x), map_y(p, right, y) - 14, 0, 8, TRUE, EW_CENTRE, ink, text);
}
