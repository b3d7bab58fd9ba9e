/* A plot with one axis of speed below and one or two axes of figures. */
#pragma once
#include "sheet/page.h"

struct ew_plot_axis {
  double low, high, step;
  const char *label; /* with its unit */
};
struct ew_plot {
  double x, y, width, height;              /* of the drawing area */
  struct ew_plot_axis bottom, left, right; /* right.step 0: none */
};

/* Axis limits and a step of 1, 2 or 5 times a power of ten that hold [low, high]. */
struct ew_plot_axis ew_plot_axis(double low, double high, int divisions, const char *label);
void ew_plot_frame(struct ew_pages *pages, const struct ew_plot *plot);
/* A line against the left or right axis; dash 0 for solid. NaN breaks the line. */
void ew_plot_line(struct ew_pages *pages, const struct ew_plot *plot, gboolean right,
                  const double *x, const double *y, gsize n, double width, double dash,
                  struct ew_ink ink);
void ew_plot_dots(struct ew_pages *pages, const struct ew_plot *plot, const double *x,
                  const double *y, gsize n, struct ew_ink ink);
void ew_plot_band(struct ew_pages *pages, const struct ew_plot *plot, gboolean right,
                  const double *x, const double *low, const double *high, gsize n,
                  struct ew_ink ink);
/* Label written at a point of a line. */
void ew_plot_label(struct ew_pages *pages, const struct ew_plot *plot, gboolean right, double x,
                   double y, struct ew_ink ink, const char *text);
