/* The answer of a search for programs: figures in SI under keys that end in their unit. */
#include "desk/search.h"
#include "desk/vary.h"
#include <math.h>

static const struct ew_search_wish *wish_at(const struct ew_search_setup *s, int k) {
  return &g_array_index(s->question->wishes, struct ew_search_wish, k);
}

static void write_wishes(const struct ew_search_setup *s, int count, struct ew_json *json) {
  ew_json_open_array(json, "figures");
  for (int k = 0; k < count; k++) {
    const struct ew_search_wish *w = wish_at(s, k);
    const struct ew_search_figure_about *about = &ew_search_figures[w->what];
    ew_json_open(json, NULL);
    ew_json_text(json, "figure", about->key);
    ew_json_text(json, "kind", ew_kind_name(about->kind));
    ew_json_text(json, "unit", ew_kind_si(about->kind));
    ew_json_text(json, "wanted", !w->wanted ? "no" : w->more ? "more" : "less");
    ew_json_number(json, "from_rpm", w->from_rpm);
    ew_json_number(json, "to_rpm", w->to_rpm);
    ew_json_number(json, "least", isfinite(w->least) ? w->least : NAN);
    ew_json_number(json, "most", isfinite(w->most) ? w->most : NAN);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

static void write_axes(const struct ew_search_setup *s, struct ew_json *json) {
  ew_json_open_array(json, "axes");
  for (guint j = 0; j < s->question->axes->len; j++) {
    const struct ew_search_axis *a = g_ptr_array_index(s->question->axes, j);
    ew_json_open(json, NULL);
    ew_json_text(json, "name", a->name);
    ew_json_number(json, "places", a->places);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

static void write_changes(const struct ew_search_setup *s, const double *point,
                          struct ew_json *json) {
  ew_json_open_array(json, "changes");
  for (guint j = 0; j < s->question->axes->len; j++) {
    g_autofree char *says = ew_search_axis_says(g_ptr_array_index(s->question->axes, j), point[j]);
    ew_json_text(json, NULL, says);
  }
  ew_json_close_array(json);
}

/* The same as changes that may be asked for again: of `engine vary`, or as the base of a prediction. */
static void write_asks(const struct ew_search_setup *s, const double *point, struct ew_json *json) {
  g_autoptr(GArray) set = ew_variations_new();
  ew_search_point_is(s->question, point, set);
  ew_json_open_array(json, "asks");
  for (guint i = 0; i < set->len; i++) {
    g_autofree char *asks = ew_variation_asks(&g_array_index(set, struct ew_variation, i));
    ew_json_text(json, NULL, asks);
  }
  ew_json_close_array(json);
}

static void write_limits(const char *key, const struct ew_search_limits *limits,
                         struct ew_json *json) {
  ew_json_open_array(json, key);
  for (int k = 0; k < limits->count; k++)
    ew_json_text(json, NULL, ew_search_figures[limits->of[k]->what].key);
  ew_json_close_array(json);
}

static void write_ranges(const struct ew_search_setup *s, const struct ew_search_answer *a,
                         const struct ew_search_member *m, struct ew_json *json) {
  ew_json_open_array(json, "ranges");
  for (int j = 0; j < a->ask.axes; j++) {
    g_autofree char *says = ew_search_member_says(s, a, m, j);
    ew_json_text(json, NULL, says);
  }
  ew_json_close_array(json);
  ew_json_open_array(json, "at_end");
  for (int j = 0; j < a->ask.axes; j++)
    if (ew_search_at_end(s, a, m, j))
      ew_json_text(json, NULL,
                   ((struct ew_search_axis *)g_ptr_array_index(s->question->axes, j))->name);
  ew_json_close_array(json);
}

/* Only with an envelope. */
static void write_corners(const struct ew_search_answer *a, const struct ew_search_member *m,
                          struct ew_json *json) {
  if (!a->corners)
    return;
  ew_json_boolean(json, "stands", m->stands);
  ew_json_boolean(json, "stays_best", m->stays_best);
  ew_json_open_array(json, "corners");
  for (int c = 0; c < a->corners; c++)
    ew_json_numbers(json, NULL, m->corner + c * a->wishes, (gsize)a->wishes);
  ew_json_close_array(json);
}

static void write_envelope(const struct ew_search_setup *s, const struct ew_search_answer *a,
                           struct ew_json *json) {
  if (!a->corners)
    return;
  ew_json_open_array(json, "envelope");
  for (int c = 0; c < a->corners; c++) {
    g_autofree char *says = ew_search_corner_says(s->question, c);
    ew_json_text(json, NULL, says);
  }
  ew_json_close_array(json);
}

/* Of torque or power, whichever is asked for first; NaN when neither is. */
static double difference_share(const struct ew_search_setup *s, const struct ew_search_answer *a) {
  double most = 0;
  int of = -1;
  for (int k = 0; k < a->wishes && of < 0; k++) {
    enum ew_search_figure what = wish_at(s, k)->what;
    of = what == EW_SEARCH_TORQUE || what == EW_SEARCH_POWER ? k : -1;
  }
  for (guint i = 0; of >= 0 && i < a->members->len; i++)
    most = fmax(most, g_array_index(a->members, struct ew_search_member, i).figures[of]);
  return most > 0 ? a->difference_u[of] / most : NAN;
}

static void write_members(const struct ew_search_setup *s, const struct ew_search_answer *a,
                          struct ew_json *json) {
  ew_json_open_array(json, "front");
  for (guint i = 0; i < a->members->len; i++) {
    const struct ew_search_member *m = &g_array_index(a->members, struct ew_search_member, i);
    ew_json_open(json, NULL);
    ew_json_number(json, "design", m->design);
    ew_json_boolean(json, "settled", m->settled);
    write_changes(s, a->found.point + m->design * a->ask.axes, json);
    ew_json_numbers(json, "at", a->found.point + m->design * a->ask.axes, (gsize)a->ask.axes);
    write_asks(s, a->found.point + m->design * a->ask.axes, json);
    ew_json_numbers(json, "figures", m->figures, (gsize)a->wishes);
    ew_json_numbers(json, "coarse", a->found.figure + m->design * a->wishes, (gsize)a->wishes);
    write_limits("held_by", &m->held, json);
    write_limits("beyond", &m->beyond, json);
    ew_json_number(json, "alike", m->alike);
    write_ranges(s, a, m, json);
    write_corners(a, m, json);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

static void write_influence(const struct ew_search_setup *s, const struct ew_search_answer *a,
                            struct ew_json *json) {
  ew_json_open_array(json, "influence");
  for (int k = 0; k < a->wishes; k++) {
    const struct ew_influence *influence = a->influence + k * a->ask.axes;
    double alone[EW_AXES_MOST], all[EW_AXES_MOST], any = 0;
    for (int j = 0; j < a->ask.axes; j++)
      any += influence[j].all;
    if (!(any > 0))
      continue;
    for (int j = 0; j < a->ask.axes; j++) {
      alone[j] = influence[j].alone;
      all[j] = influence[j].all;
    }
    ew_json_open(json, NULL);
    ew_json_text(json, "figure", ew_search_figures[wish_at(s, k)->what].key);
    ew_json_numbers(json, "alone", alone, (gsize)a->ask.axes);
    ew_json_numbers(json, "with_others", all, (gsize)a->ask.axes);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

void ew_search_answer_write_json(const struct ew_search_setup *s, const struct ew_search_answer *a,
                                 struct ew_json *json) {
  write_wishes(s, a->wishes, json);
  write_axes(s, json);
  ew_json_numbers(json, "speed_rpm", a->speed_rpm, (gsize)a->speeds);
  ew_json_number(json, "idle_rpm", a->idle_rpm);
  ew_json_number(json, "designs", a->found.designs);
  ew_json_number(json, "not_settled", a->found.unsound);
  ew_json_number(json, "barred", a->found.barred);
  ew_json_open_array(json, "reasons");
  for (guint i = 0; i < a->reasons->len; i++) {
    const struct ew_search_reason *r = &g_array_index(a->reasons, struct ew_search_reason, i);
    ew_json_open(json, NULL);
    ew_json_text(json, "reason", r->says);
    ew_json_number(json, "count", r->count);
    ew_json_close(json);
  }
  ew_json_close_array(json);
  ew_json_numbers(json, "as_it_is", a->base, (gsize)a->wishes);
  ew_json_boolean(json, "as_it_is_settled", a->base_settled);
  ew_json_number(json, "difference_standard_uncertainty_share", difference_share(s, a));
  ew_json_numbers(json, "difference_standard_uncertainty", a->difference_u, (gsize)a->wishes);
  write_limits("as_it_is_beyond", &a->base_beyond, json);
  write_envelope(s, a, json);
  write_members(s, a, json);
  write_influence(s, a, json);
  if (!a->keeping)
    return;
  ew_json_open(json, "kept");
  ew_json_number(json, "taken", (double)a->kept.taken);
  ew_json_number(json, "others", (double)(a->kept.records - a->kept.taken));
  ew_json_number(json, "other_physics", (double)a->kept.older);
  ew_json_number(json, "damaged", (double)(a->kept.damaged + a->kept.torn));
  ew_json_close(json);
}
