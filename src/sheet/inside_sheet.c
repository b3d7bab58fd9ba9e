/* The two pages of a prediction. See inside_sheet.h. Lines that share a plot differ in dash as well as in ink. */
#include "sheet/inside_sheet.h"
#include "base/language.h"
#include "base/words.h"
#include "sheet/plot.h"
#include <math.h>

#define SPARK_FROM_DEG (-60.0) /* of the plot of burning */
#define SPARK_TO_DEG   120.0
#define EXCHANGE_TOP   1.15 /* of the highest port pressure: the enlarged loop */

struct line {
  const double *values;
  enum ew_kind kind;
  double width, dash;
  struct ew_ink ink;
  const char *name;
};

static double shown(const struct ew_inside_paper *s, enum ew_kind kind, double inside) {
  return ew_shown(kind, s->units, inside);
}

static double *shown_all(const struct ew_inside_paper *s, const struct line *l, gsize n) {
  double *y = g_new(double, n);
  for (gsize i = 0; i < n; i++)
    y[i] = shown(s, l->kind, l->values[i]);
  return y;
}

/* Pressures are absolute; the kind of mean effective pressure gives bar and psi. */
static char *pressure_label(const struct ew_inside_paper *s, const char *text) {
  return g_strdup_printf("%s, %s", text, ew_kind_shown(EW_KIND_MEAN_EFFECTIVE_PRESSURE, s->units));
}

static void span(const struct ew_inside_paper *s, const struct line *lines, int count, gsize n,
                 double *low, double *high) {
  *low = INFINITY;
  *high = -INFINITY;
  for (int k = 0; k < count; k++)
    for (gsize i = 0; lines[k].values && i < n; i++) {
      double y = shown(s, lines[k].kind, lines[k].values[i]);
      *low = fmin(*low, y); /* fmin leaves NaN out */
      *high = fmax(*high, y);
    }
  if (!(*high > *low))
    *low = isfinite(*low) ? *low - 1 : 0, *high = *low + 2;
}

/* A short stroke of each line with its name, in a row; what does not fit goes below. Returns where they end. */
static double draw_names(struct ew_pages *p, const struct line *lines, int count, double x,
                         double y, double right) {
  double at = x;
  for (int k = 0; k < count; k++) {
    if (!lines[k].values)
      continue;
    double wide = 42 + 3.9 * (double)g_utf8_strlen(lines[k].name, -1);
    if (at + wide > right && at > x)
      at = x, y += 12;
    ew_ink_set(p, lines[k].ink, 1);
    cairo_set_line_width(p->cairo, lines[k].width);
    if (lines[k].dash > 0)
      cairo_set_dash(p->cairo, &lines[k].dash, 1, 0);
    cairo_move_to(p->cairo, at, y + 5);
    cairo_line_to(p->cairo, at + 24, y + 5);
    cairo_stroke(p->cairo);
    cairo_set_dash(p->cairo, NULL, 0, 0);
    ew_text(p, at + 28, y, 0, 7.5, FALSE, EW_LEFT, ew_black, lines[k].name);
    at += wide;
  }
  return y + 12;
}

static void draw_lines(struct ew_pages *p, const struct ew_inside_paper *s,
                       const struct ew_plot *plot, const double *x, gsize n,
                       const struct line *lines, int count) {
  for (int k = 0; k < count; k++) {
    if (!lines[k].values)
      continue;
    g_autofree double *y = shown_all(s, &lines[k], n);
    ew_plot_line(p, plot, FALSE, x, y, n, lines[k].width, lines[k].dash, lines[k].ink);
  }
}

/* ---- page 1 ---- */

static void draw_band(struct ew_pages *p, const struct ew_inside_paper *s,
                      const struct ew_plot *plot) {
  g_autofree double *low = g_new(double, s->speeds), *high = g_new(double, s->speeds);
  for (gsize i = 0; i < s->speeds; i++) {
    low[i] = shown(s, EW_KIND_TORQUE, s->torque_n_m[i] - s->expanded_n_m[i]);
    high[i] = shown(s, EW_KIND_TORQUE, s->torque_n_m[i] + s->expanded_n_m[i]);
  }
  ew_plot_band(p, plot, FALSE, s->speed_rpm, low, high, s->speeds, ew_ochre);
}

static void curve_span(const struct ew_inside_paper *s, double *low, double *high) {
  *low = INFINITY;
  *high = -INFINITY;
  for (gsize i = 0; i < s->speeds; i++) {
    double half = s->expanded_n_m ? s->expanded_n_m[i] : 0;
    *low = fmin(*low, s->torque_n_m[i] - half);
    *high = fmax(*high, s->torque_n_m[i] + half);
  }
  for (gsize i = 0; i < s->measured; i++) {
    *low = fmin(*low, s->measured_n_m[i]);
    *high = fmax(*high, s->measured_n_m[i]);
  }
}

static double draw_curve(struct ew_pages *p, const struct ew_inside_paper *s, double y) {
  double low, high, first = s->speed_rpm[0], last = s->speed_rpm[s->speeds - 1];
  for (gsize i = 0; i < s->measured; i++) {
    first = fmin(first, s->measured_rpm[i]);
    last = fmax(last, s->measured_rpm[i]);
  }
  curve_span(s, &low, &high);
  g_autofree char *label = ew_words("torque, %s", ew_kind_shown(EW_KIND_TORQUE, s->units));
  struct ew_plot plot = {p->margin + 30,
                         y + 20,
                         p->width - 2 * p->margin - 40,
                         0.44 * p->height,
                         ew_plot_axis(first, last, 8, ew_tr("engine speed, rpm")),
                         ew_plot_axis(shown(s, EW_KIND_TORQUE, 0.97 * low),
                                      shown(s, EW_KIND_TORQUE, 1.03 * high), 8, label),
                         {0}};
  struct line lines[] = {
      {s->measured_n_m, EW_KIND_TORQUE, 1.8, 0, ew_blue, s->measured_label},
      {s->torque_n_m, EW_KIND_TORQUE, 1.8, 7, ew_ochre,
       s->expanded_n_m ? ew_tr("predicted, with its band at 95 %") : ew_tr("predicted")}};
  ew_plot_frame(p, &plot);
  if (s->expanded_n_m)
    draw_band(p, s, &plot);
  draw_lines(p, s, &plot, s->measured_rpm, s->measured, lines, 1);
  draw_lines(p, s, &plot, s->speed_rpm, s->speeds, lines + 1, 1);
  draw_names(p, lines, 2, plot.x, plot.y + plot.height + 32, plot.x + plot.width);
  return plot.y + plot.height + 60;
}

static void draw_first(struct ew_pages *p, const struct ew_inside_paper *s) {
  double width = p->width - 2 * p->margin, y = p->margin;
  ew_pages_next(p);
  y += ew_text(p, p->margin, y, width, 17, TRUE, EW_LEFT, ew_black, s->title) + 10;
  y = draw_curve(p, s, y);
  double foot = p->height - p->margin - ew_text_height(p, width, 8, FALSE, EW_LEFT, s->caution);
  for (guint i = 0; i < s->lines->len; i++) {
    const char *text = s->lines->pdata[i];
    if (y + ew_text_height(p, width, 8, FALSE, EW_LEFT, text) > foot - 14) {
      g_autofree char *more = ew_words("and %u more", s->lines->len - i);
      ew_text(p, p->margin, y, width, 8, FALSE, EW_LEFT, ew_grey, more);
      break;
    }
    y += ew_text(p, p->margin, y, width, 8, FALSE, EW_LEFT, ew_black, text) + 3;
  }
  ew_text(p, p->margin, foot, width, 8, FALSE, EW_LEFT, ew_grey, s->caution);
}

/* ---- page 2 ---- */

/* When a valve is open: a bar along the foot of the plot, parted where the axis begins again. */
static void draw_open(struct ew_pages *p, const struct ew_inside_paper *s,
                      const struct ew_plot *plot, int side) {
  double from = s->opens_deg[side], to = s->closes_deg[side],
         y = plot->y + plot->height - 5 - 7 * side;
  struct ew_ink ink = side ? ew_ochre : ew_blue;
  double scale = plot->width / (plot->bottom.high - plot->bottom.low);
  if (isnan(from) || isnan(to))
    return;
  for (int turn = 0; turn < 2; turn++) {
    double a = fmax(from - 720 * turn, plot->bottom.low),
           b = fmin(to - 720 * turn, plot->bottom.high);
    if (b > a)
      ew_line(p, plot->x + (a - plot->bottom.low) * scale, y,
              plot->x + (b - plot->bottom.low) * scale, y, 4, ink);
  }
}

static void draw_events(struct ew_pages *p, const struct ew_inside_paper *s,
                        const struct ew_plot *plot) {
  for (int side = 0; side < 2; side++) {
    draw_open(p, s, plot, side);
    for (int shut = 0; shut < 2; shut++) {
      double at = shut ? s->closes_deg[side] : s->opens_deg[side];
      if (isnan(at))
        continue;
      double x = plot->x + plot->width *
                               ((at >= plot->bottom.high ? at - 720 : at) - plot->bottom.low) /
                               (plot->bottom.high - plot->bottom.low);
      ew_line(p, x, plot->y, x, plot->y + plot->height, 0.5, side ? ew_ochre : ew_blue);
    }
  }
}

static struct ew_plot crank_plot(const struct ew_pages *p, double y, double height, double low,
                                 double high, double step, struct ew_plot_axis left) {
  struct ew_plot plot = {p->margin + 30,
                         y,
                         p->width - 2 * p->margin - 40,
                         height,
                         {low, high, step, ew_tr("crank degrees after firing top dead centre")},
                         left,
                         {0}};
  return plot;
}

/* The four strokes by name, along the top. */
static void draw_strokes(struct ew_pages *p, const struct ew_plot *plot) {
  const char *const names[] = {ew_tr("compression stroke"), ew_tr("power stroke"),
                               ew_tr("exhaust stroke"), ew_tr("inlet stroke")};
  for (int k = 0; k < 4; k++)
    ew_text(p, plot->x + plot->width * (k + 0.5) / 4, plot->y + 2, 0, 7, FALSE, EW_CENTRE, ew_grey,
            names[k]);
}

static double draw_ports(struct ew_pages *p, const struct ew_inside_paper *s, double y,
                         double height) {
  const enum ew_kind bar = EW_KIND_MEAN_EFFECTIVE_PRESSURE;
  const struct line lines[] = {
      {s->inlet_port_pa, bar, 1.5, 0, ew_blue, ew_tr("at the inlet valve")},
      {s->inlet_far_pa, bar, 1, 3, ew_blue, ew_tr("runner, far end")},
      {s->exhaust_port_pa, bar, 1.5, 0, ew_ochre, ew_tr("at the exhaust valve")},
      {s->exhaust_far_pa, bar, 1, 3, ew_ochre, ew_tr("primary, far end")}};
  double low, high;
  span(s, lines, 4, s->degrees, &low, &high);
  g_autofree char *label = pressure_label(s, ew_tr("absolute pressure in the ports"));
  struct ew_plot plot = crank_plot(p, y + 16, height, -180, 540, 90,
                                   ew_plot_axis(low - 0.12 * (high - low), high, 5, label));
  ew_plot_frame(p, &plot);
  draw_strokes(p, &plot);
  draw_events(p, s, &plot);
  draw_lines(p, s, &plot, s->angle_deg, s->degrees, lines, 4);
  double under = draw_names(p, lines, 4, plot.x, plot.y + height + 30, plot.x + plot.width);
  ew_text(p, plot.x, under, plot.width, 7.5, FALSE, EW_LEFT, ew_grey,
          ew_tr("Bars: the valves are open by 1 mm and more (blue inlet, ochre exhaust)."));
  return under + 20;
}

/* The loop in one half of the page, its pressure up to `top` as shown. */
static void draw_loop(struct ew_pages *p, const struct ew_inside_paper *s, double x, double y,
                      double height, double top, const char *title) {
  const struct line loop = {s->cylinder_pa, EW_KIND_MEAN_EFFECTIVE_PRESSURE, 1.3, 0, ew_black, ""};
  const struct line volume = {s->volume_m3, EW_KIND_VOLUME, 0, 0, ew_black, ""};
  gsize n = s->degrees;
  g_autofree double *v = g_new(double, n + 1), *q = g_new(double, n + 1);
  double low, high;
  for (gsize i = 0; i <= n; i++) { /* closed */
    v[i] = shown(s, EW_KIND_VOLUME, s->volume_m3[i % n]);
    q[i] = shown(s, loop.kind, s->cylinder_pa[i % n]);
  }
  span(s, &volume, 1, n, &low, &high);
  g_autofree char *label = pressure_label(s, title);
  g_autofree char *below = ew_words("volume, %s", ew_kind_shown(EW_KIND_VOLUME, s->units));
  struct ew_plot plot = {x + 30,
                         y + 16,
                         (p->width - 2 * p->margin) / 2 - 48,
                         height,
                         ew_plot_axis(0, high, 5, below),
                         ew_plot_axis(0, top, 5, label),
                         {0}};
  ew_plot_frame(p, &plot);
  ew_plot_line(p, &plot, FALSE, v, q, n + 1, loop.width, 0, ew_black);
}

static double draw_loops(struct ew_pages *p, const struct ew_inside_paper *s, double y,
                         double height) {
  const enum ew_kind bar = EW_KIND_MEAN_EFFECTIVE_PRESSURE;
  const struct line whole = {s->cylinder_pa, bar, 0, 0, ew_black, ""};
  const struct line ports[] = {{s->inlet_port_pa, bar, 0, 0, ew_black, ""},
                               {s->exhaust_port_pa, bar, 0, 0, ew_black, ""}};
  double low, high, port_high;
  span(s, &whole, 1, s->degrees, &low, &high);
  span(s, ports, 2, s->degrees, &low, &port_high);
  draw_loop(p, s, p->margin, y, height, high, ew_tr("pressure over volume"));
  draw_loop(p, s, p->width / 2 + 8, y, height, fmin(EXCHANGE_TOP * port_high, high),
            ew_tr("the gas exchange enlarged"));
  return y + height + 56;
}

static void draw_burning(struct ew_pages *p, const struct ew_inside_paper *s, double y,
                         double height) {
  const struct line lines[] = {
      {s->cylinder_pa, EW_KIND_MEAN_EFFECTIVE_PRESSURE, 1.5, 0, ew_blue,
       ew_tr("cylinder pressure")},
      {s->burned, EW_KIND_RATIO, 1.5, 5, ew_ochre, ew_tr("burned share of the charge")}};
  double low, high;
  span(s, lines, 1, s->degrees, &low, &high);
  g_autofree char *label = pressure_label(s, ew_tr("cylinder pressure"));
  struct ew_plot plot = crank_plot(p, y + 16, height, SPARK_FROM_DEG, SPARK_TO_DEG, 20,
                                   ew_plot_axis(0, high, 5, label));
  plot.width -= 24;
  plot.right = (struct ew_plot_axis){0, 100, 25, ew_tr("burned, %")};
  ew_plot_frame(p, &plot);
  draw_lines(p, s, &plot, s->angle_deg, s->degrees, lines, 1);
  g_autofree double *burned = shown_all(s, &lines[1], s->degrees);
  ew_plot_line(p, &plot, TRUE, s->angle_deg, burned, s->degrees, 1.5, 5, ew_ochre);
  draw_names(p, lines, 2, plot.x, plot.y + height + 30, plot.x + plot.width);
}

static void draw_second(struct ew_pages *p, const struct ew_inside_paper *s) {
  double width = p->width - 2 * p->margin, y = p->margin;
  ew_pages_next(p);
  y += ew_text(p, p->margin, y, width, 13, TRUE, EW_LEFT, ew_black, s->heading) + 4;
  y += ew_text(p, p->margin, y, width, 8, FALSE, EW_LEFT, ew_black, s->about) + 6;
  double left =
      p->height - p->margin - y - 62 - 16 - 56 - 60; /* words and axes of the three rows */
  y = draw_ports(p, s, y, 0.38 * left);
  y = draw_loops(p, s, y, 0.34 * left);
  draw_burning(p, s, y, 0.28 * left);
}

gboolean ew_inside_paper_draw(const struct ew_inside_paper *s, const char *path,
                              enum ew_format format, enum ew_paper size, GError **error) {
  g_assert(s->speeds >= 1 && s->degrees >= 2);
  struct ew_pages pages;
  ew_pages_open(&pages, path, format, size, s->title, s->stamp);
  draw_first(&pages, s);
  draw_second(&pages, s);
  return ew_pages_close(&pages, error);
}
