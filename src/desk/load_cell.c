/* Weights on an arm to a line, and a trial of it: it is kept in a transaction that is then taken back, so that what is said beforehand
 * is what would happen, by the same code. */
#include "desk/load_cell.h"
#include "base/error.h"
#include "book/keep.h"
#include <math.h>

static gboolean is_more(double a, double b) {
  return a - b > 1e-6 * fmax(fabs(a), fabs(b));
}

/* Which reading fell where the load rose: a line through the others would hide a figure that was typed wrong. */
static gboolean rises_throughout(const struct ew_calibration_point *p, gsize n, GError **error) {
  for (gsize i = 0; i < n; i++)
    for (gsize k = 0; k < n; k++)
      if (is_more(p[k].applied, p[i].applied) && p[k].read < p[i].read)
        return ew_refuse(error,
                         "reading %zu (%.2f N·m) is below reading %zu (%.2f N·m), though more "
                         "weight hung there: check both figures, and that the arm swings freely",
                         k + 1, p[k].read, i + 1, p[i].read);
  return TRUE;
}

gboolean ew_load_cell_line(const struct ew_calibration_point *points, gsize n,
                           struct ew_calibration *line, GError **error) {
  g_assert(n == 0 || points);
  return ew_calibrate(points, n, line, error) && rises_throughout(points, n, error);
}

double ew_load_cell_off(const struct ew_calibration *line, struct ew_calibration_point point) {
  return line->offset + line->gain * point.read - point.applied;
}

void ew_calibration_facts(const struct ew_calibration *line, enum ew_channel channel,
                          struct ew_json *json) {
  gboolean torque = channel == EW_CHANNEL_TORQUE;
  if (!torque)
    ew_json_text(json, "channel", ew_channel_facts[channel].key);
  ew_json_number(json, "gain", line->gain);
  ew_json_number(json, "gain_standard_uncertainty", line->gain_u);
  ew_json_number(json, torque ? "offset_n_m" : "offset", line->offset);
  ew_json_number(json, torque ? "offset_standard_uncertainty_n_m" : "offset_standard_uncertainty",
                 line->offset_u);
  ew_json_number(json, "covariance", line->covariance);
  ew_json_number(json, torque ? "residual_sd_n_m" : "residual_sd", line->residual_sd);
  ew_json_number(json, torque ? "hysteresis_n_m" : "hysteresis", line->hysteresis);
  ew_json_integer(json, "points", (gint64)line->points);
}

char *ew_calibration_until(double valid_s) {
  g_autoptr(GDateTime) now = g_date_time_new_now_utc();
  g_autoptr(GDateTime) then = g_date_time_add_seconds(now, valid_s);
  return g_date_time_format(then, "%Y-%m-%dT%H:%M:%SZ");
}

struct trial {
  const struct ew_desk *desk;
  const struct ew_calibration_row *row;
  struct ew_calibration_kept *would;
  gboolean done;
};

/* FALSE, so that the book takes all of it back; `done` tells that apart from a failure. */
static gboolean keep_and_take_back(struct ew_book *book, gpointer user, GError **error) {
  struct trial *t = user;
  (void)book;
  t->done = ew_desk_calibration_keep(t->desk, t->row, t->would, error);
  return t->done ? ew_fail(error, "a trial is not kept") : FALSE;
}

gboolean ew_desk_calibration_try(const struct ew_desk *desk, const struct ew_calibration_row *row,
                                 struct ew_calibration_kept *would, GError **error) {
  struct trial t = {desk, row, would, FALSE};
  GError *problem = NULL;
  gboolean kept = ew_book_as_one(desk->book, keep_and_take_back, &t, &problem);
  g_assert(!kept);
  if (t.done) {
    g_clear_error(&problem);
    return TRUE;
  }
  g_propagate_error(error, problem);
  return FALSE;
}
