/* Rows of a log, and the grid of whole degrees that is made of them: linear between steps, the last and the first too, since a steady
 * cycle closes. See trace.h. */
#include "cycle/trace.h"
#include <math.h>

struct ew_trace_log {
  int series;
  GArray *rows; /* 1 + series doubles each, angle first */
};

static int series_of(const struct ew_cycle_plan *p) {
  return 4 * ew_plan_count(p, EW_PLAN_CYLINDERS) + ew_plan_count(p, EW_PLAN_VOLUMES) +
         4 * ew_plan_count(p, EW_PLAN_PIPES);
}

struct ew_trace_log *ew_trace_log_new(const struct ew_cycle_plan *plan) {
  struct ew_trace_log *log = g_new0(struct ew_trace_log, 1);
  log->series = series_of(plan);
  log->rows = g_array_new(FALSE, TRUE, sizeof(double));
  return log;
}

void ew_trace_log_free(struct ew_trace_log *log) {
  if (log)
    g_array_free(log->rows, TRUE);
  g_free(log);
}

void ew_trace_log_clear(struct ew_trace_log *log) {
  g_array_set_size(log->rows, 0);
}

double *ew_trace_log_add(struct ew_trace_log *log, double deg) {
  guint at = log->rows->len;
  g_array_set_size(log->rows, at + 1 + log->series);
  double *row = &g_array_index(log->rows, double, at);
  row[0] = deg;
  return row + 1;
}

const double *ew_cycle_trace_of(const struct ew_cycle_trace *t, enum ew_trace_part part, int index,
                                enum ew_trace_what what) {
  int ends = 4 * t->cylinders + t->vessels, s = -1;
  switch (part) {
  case EW_TRACE_CYLINDER:
    if (index >= 0 && index < t->cylinders && what <= EW_TRACE_BURNED)
      s = 4 * index + (int)what;
    break;
  case EW_TRACE_VESSEL:
    if (index >= 0 && index < t->vessels && what == EW_TRACE_PRESSURE)
      s = 4 * t->cylinders + index;
    break;
  case EW_TRACE_PIPE_END:
    if (index >= 0 && index < 2 * t->pipes && (what == EW_TRACE_PRESSURE || what == EW_TRACE_FLOW))
      s = ends + 2 * index + (what == EW_TRACE_FLOW);
    break;
  }
  g_assert(s < t->series);
  return s < 0 ? NULL : t->value[s];
}

double ew_cycle_trace_work_j(const struct ew_cycle_trace *t, int cylinder) {
  const double *p = ew_cycle_trace_of(t, EW_TRACE_CYLINDER, cylinder, EW_TRACE_PRESSURE);
  const double *v = ew_cycle_trace_of(t, EW_TRACE_CYLINDER, cylinder, EW_TRACE_VOLUME);
  double work = 0;
  for (int i = 0; p && i < 720; i++) {
    int next = (i + 1) % 720;
    work += 0.5 * (p[i] + p[next]) * (v[next] - v[i]);
  }
  return p ? work : NAN;
}

static void name_series(struct ew_cycle_trace *t, const struct ew_cycle_plan *p) {
  static const char *const what[] = {"pressure", "temperature", "volume", "burned fraction"};
  static const char *const unit[] = {"Pa", "K", "m3", "1"};
  int n = 0;
  for (int i = 0; i < ew_plan_count(p, EW_PLAN_CYLINDERS); i++)
    for (int k = 0; k < 4; k++, n++) {
      t->name[n] = g_strdup_printf("cylinder %d %s", i + 1, what[k]);
      t->unit[n] = g_strdup(unit[k]);
    }
  for (int v = 0; v < ew_plan_count(p, EW_PLAN_VOLUMES); v++, n++) {
    t->name[n] = g_strdup_printf("%s pressure", ew_cycle_plan_name(p, EW_PLAN_VOLUMES, v));
    t->unit[n] = g_strdup("Pa");
  }
  for (int e = 0; e < 2 * ew_plan_count(p, EW_PLAN_PIPES); e++) {
    const char *pipe = ew_cycle_plan_name(p, EW_PLAN_PIPES, e / 2);
    t->name[n] = g_strdup_printf("%s end %d pressure", pipe, e % 2 + 1);
    t->unit[n++] = g_strdup("Pa");
    t->name[n] = g_strdup_printf("%s end %d flow", pipe, e % 2 + 1);
    t->unit[n++] = g_strdup("kg/s");
  }
}

struct ew_cycle_trace *ew_trace_log_grid(const struct ew_trace_log *log,
                                         const struct ew_cycle_plan *plan) {
  struct ew_cycle_trace *t = g_new0(struct ew_cycle_trace, 1);
  t->series = log->series;
  t->cylinders = ew_plan_count(plan, EW_PLAN_CYLINDERS);
  t->vessels = ew_plan_count(plan, EW_PLAN_VOLUMES);
  t->pipes = ew_plan_count(plan, EW_PLAN_PIPES);
  t->firing_deg = g_new(double, t->cylinders);
  for (int i = 0; i < t->cylinders; i++)
    t->firing_deg[i] = ew_plan_cylinders(plan)[i].shape.firing_deg;
  t->name = g_new0(char *, t->series);
  t->unit = g_new0(char *, t->series);
  t->value = g_malloc0(sizeof *t->value * t->series);
  name_series(t, plan);
  for (int s = 0; s < t->series; s++)
    g_assert(t->name[s] && t->unit[s]);
  int width = log->series + 1, rows = log->rows->len / width;
  g_assert(log->rows->len % (guint)width == 0);
  const double *data = (const double *)(void *)log->rows->data;
  const double *last = data + (rows - 1) * width;
  for (int deg = 0, i = 0; rows > 1 && deg < 720; deg++) {
    while (i < rows - 2 && data[(i + 1) * width] < deg)
      i++;
    /* before the first row: from the last, which ended this cycle and begins the next */
    const double *a = deg < data[0] ? last : data + i * width,
                 *b = deg < data[0] ? data : a + width;
    double from = deg < data[0] ? a[0] - 720 : a[0];
    double w = b[0] > from ? (deg - from) / (b[0] - from) : 0;
    for (int s = 0; s < t->series; s++)
      t->value[s][deg] = a[s + 1] + w * (b[s + 1] - a[s + 1]);
  }
  return t;
}

void ew_cycle_trace_free(struct ew_cycle_trace *t) {
  if (!t)
    return;
  for (int s = 0; s < t->series; s++) {
    g_free(t->name[s]);
    g_free(t->unit[s]);
  }
  g_free(t->firing_deg);
  g_free(t->name);
  g_free(t->unit);
  g_free(t->value);
  g_free(t);
}
