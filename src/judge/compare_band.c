/* The curve of a comparison and the band about it, from the same pulls and corrections as the headline. */
#include "judge/compare_parts.h"
#include <math.h>

EW_MESSAGE(band_rough, "judge.band-rough", EW_NOTE,
           "the band around the curve is rough: it rests on few like pulls");

/* Where the curve is asked: every 100 rpm, or as many times that as leaves 60 points. */
static void place_points(struct ew_comparison *c) {

  g_assert(c->band_low_rpm <= c->band_high_rpm);
  double step = 100;
  c->points = (gsize)((c->band_high_rpm - c->band_low_rpm) / step) + 1;
  while (c->points > 60) {
    step *= 2;
    c->points = (gsize)((c->band_high_rpm - c->band_low_rpm) / step) + 1;
  }
  c->speed_rpm = g_new(double, c->points);
  for (gsize j = 0; j < c->points; j++)
    c->speed_rpm[j] = c->band_low_rpm + step * (double)j;
}

void ew_compare_band(const struct ew_compared_pull *pulls, gsize n, const double *shift,
                     struct ew_comparison *c, const struct ew_difference *d) {
  place_points(c);
  g_autofree double *logs = g_new(double, n * c->points);
  g_autofree int *group = g_new(int, n);
  gsize curves = 0;
  double noise = 0;
  for (gsize i = 0; i < n; i++) {
    gboolean whole = TRUE;
    for (gsize j = 0; j < c->points; j++) {
      double torque = ew_curve_at(pulls[i].curve, pulls[i].curve->torque_n_m, c->speed_rpm[j]);
      double drift = pulls[i].side < 2 ? d->slope * pulls[i].position : 0;
      logs[curves * c->points + j] = log(torque) - drift - shift[i];
      whole &= torque > 0;
    }
    if (!whole)
      continue;
    const struct ew_curve *curve = pulls[i].curve;
    double se = ew_curve_at(curve, curve->torque_se_n_m, c->speed_rpm[c->points / 2]);
    noise += isnan(se) ? 0.003 : se / exp(logs[curves * c->points + c->points / 2]);
    group[curves++] = pulls[i].side;
  }
  g_assert(curves <= n && c->points <= 60);
  struct ew_band_input input = {.points = c->points,
                                .speed_rpm = c->speed_rpm,
                                .half_width_rpm = pulls[0].curve->method.half_width_rpm,
                                .curves = curves,
                                .log_torque = logs,
                                .group = group,
                                .noise_relative = fmax(noise / (double)MAX(curves, 1), 1e-4),
                                .scale_freedom = d->freedom,
                                .wide = c->n_a == 1 && c->n_b == 1};
  const struct ew_message_kind *why = NULL;
  if (!ew_band(&input, &c->band, &why))
    ew_messages_add(c->warnings, ew_message_plain(why));
  else {
    /* drift and stops widen the headline beyond its spread; the curve as much */
    double own = d->sd * d->sd * (1.0 / c->n_a + 1.0 / c->n_b);
    double wider = own > 0 && d->variance > own ? sqrt(d->variance / own) : 1;
    for (gsize j = 0; j < c->points; j++)
      c->band.half_width[j] *= wider;
  }
  if (c->band.half_width && c->band.rough)
    ew_messages_add(c->warnings, ew_message_plain(&band_rough));
}
