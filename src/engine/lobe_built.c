/* Coefficients from four conditions at the ramp, and the two nested halvings of lobe_built.h. A card that no smooth
 * lobe can meet is refused with what doesn't fit. */
#include "engine/lobe_built.h"
#include "base/error.h"
#include <math.h>

#define RAD      (G_PI / 180)
#define SLIMMEST 3.0
#define FULLEST  60.0
#define LONGEST  300.0 /* crank degrees from centre to ramp */

/* Four conditions at x = 1: height, slope, no acceleration, no jerk. Gauss with pivots. */
static void solve4(double a[4][5]) {
  for (int i = 0; i < 4; i++) {
    int best = i;
    for (int j = i + 1; j < 4; j++)
      if (fabs(a[j][i]) > fabs(a[best][i]))
        best = j;
    for (int k = 0; k < 5; k++) {
      double swap = a[i][k];
      a[i][k] = a[best][k];
      a[best][k] = swap;
    }
    for (int j = 0; j < 4; j++) {
      double factor = j == i ? 0 : a[j][i] / a[i][i];
      for (int k = i; k < 5; k++)
        a[j][k] -= factor * a[i][k];
    }
  }
}

static void shape(struct ew_lobe *lobe, double fullness, double main_deg) {
  const double powers[4] = {2, fullness, 2 * fullness - 2, 3 * fullness - 4};
  double a[4][5];
  lobe->main_rad = main_deg * RAD;
  for (int i = 0; i < 4; i++) {
    double n = powers[i];
    lobe->power[i] = n;
    a[0][i] = 1, a[1][i] = n, a[2][i] = n * (n - 1), a[3][i] = n * (n - 1) * (n - 2);
  }
  a[0][4] = lobe->ramp_m - lobe->peak_m;
  a[1][4] = -lobe->ramp_slope_m_rad * lobe->main_rad;
  a[2][4] = a[3][4] = 0;
  solve4(a);
  for (int i = 0; i < 4; i++)
    lobe->coefficient[i] = a[i][4] / a[i][i];
  lobe->reach_deg = main_deg + 1.5 * lobe->ramp_m / lobe->ramp_slope_m_rad / RAD;
}

/* The main angle at which the lobe has the check lift at half the check duration. */
static void fit_angle(struct ew_lobe *lobe, const struct ew_lobe_card *card, double fullness) {
  double half = card->check_duration_deg / 2, low = half / 2, high = LONGEST;
  for (int i = 0; i < 60; i++) {
    double middle = (low + high) / 2;
    shape(lobe, fullness, middle);
    if (ew_lobe_at(lobe, half).lift_m < card->check_lift_m)
      low = middle;
    else
      high = middle;
  }
}

static double lower_lift(struct ew_lobe *lobe, const struct ew_lobe_card *card, double fullness) {
  fit_angle(lobe, card, fullness);
  return ew_lobe_at(lobe, card->duration_deg / 2).lift_m;
}

static gboolean falls_all_the_way(const struct ew_lobe *lobe) {
  for (double angle = 0.5; angle < lobe->reach_deg - 0.5; angle += 0.5)
    if (ew_lobe_at(lobe, angle).velocity_m_rad > 0)
      return FALSE;
  return TRUE;
}

static gboolean refuse_shape(struct ew_lobe *lobe, const struct ew_lobe_card *card,
                             GError **error) {
  fit_angle(lobe, card, FULLEST);
  double shortest = ew_lobe_duration_deg(lobe, card->duration_lift_m, NULL, NULL);
  fit_angle(lobe, card, SLIMMEST);
  double longest = ew_lobe_duration_deg(lobe, card->duration_lift_m, NULL, NULL);
  return ew_refuse(
      error,
      "no smooth lobe of %.2f mm has %.0f deg at %.2f mm and %.0f deg at %.2f mm: with "
      "this ramp the first can be %.0f to %.0f deg; check both durations, the lifts "
      "they are stated at, and the ramp",
      card->lift_m * 1e3, card->duration_deg, card->duration_lift_m * 1e3, card->check_duration_deg,
      card->check_lift_m * 1e3, ceil(shortest), floor(longest));
}

gboolean ew_lobe_build(const struct ew_lobe_card *card, struct ew_lobe *lobe, GError **error) {
  if (!(card->check_lift_m > card->duration_lift_m && card->lift_m > card->check_lift_m &&
        card->lift_m > 2 * card->ramp_height_m && card->ramp_length_deg > 0 &&
        card->duration_deg > card->check_duration_deg))
    return ew_refuse(error,
                     "a lobe needs its lift, durations at two lifts, the longer at the lower "
                     "one, and a ramp lower than half the lift");
  *lobe = (struct ew_lobe){.kind = EW_LOBE_BUILT,
                           .peak_m = card->lift_m,
                           .ramp_m = card->ramp_height_m,
                           .ramp_slope_m_rad =
                               1.5 * card->ramp_height_m / (card->ramp_length_deg * RAD)};
  double slim = SLIMMEST, full = FULLEST;
  if (lower_lift(lobe, card, slim) < card->duration_lift_m ||
      lower_lift(lobe, card, full) > card->duration_lift_m)
    return refuse_shape(lobe, card, error);
  for (int i = 0; i < 50; i++) {
    double middle = sqrt(slim * full);
    if (lower_lift(lobe, card, middle) > card->duration_lift_m)
      slim = middle;
    else
      full = middle;
  }
  lower_lift(lobe, card, full);
  return falls_all_the_way(lobe) || refuse_shape(lobe, card, error);
}
