/* What a search found, in words: a row a choice, then what two rows differ by, what lies at an end, the envelope, and what makes the difference. */
#include "cli/search_said.h"
#include "base/number.h"
#include "base/words.h"
#include "cli/command.h"
#include "desk/vary.h"
#include <math.h>
#include <string.h>

#define SHOWN 12 /* of a long front */

static const struct ew_search_wish *wish_at(const struct ew_search_setup *s, int k) {
  return &g_array_index(s->question->wishes, struct ew_search_wish, k);
}

static const struct ew_search_member *member_at(const struct ew_search_answer *a, guint i) {
  return &g_array_index(a->members, struct ew_search_member, i);
}

/* "torque 3,000 to 6,500 rpm [N·m]" */
static char *heading(const struct ew_search_wish *w, enum ew_unit_system units) {
  const struct ew_search_figure_about *about = &ew_search_figures[w->what];
  const char *unit = ew_kind_shown(about->kind, units);
  gboolean band = !isnan(w->from_rpm) && !isnan(w->to_rpm);
  g_autofree char *over = band ? ew_words("%s %#.0f to %#.0f", about->key, w->from_rpm, w->to_rpm)
                               : g_strdup(about->key);
  GString *text = g_string_new(over);
  if (*unit)
    g_string_append_printf(text, " [%s]", unit);
  return g_string_free(text, FALSE);
}

static char *cell_of(const struct ew_search_wish *w, double figure, enum ew_unit_system units) {
  char buffer[EW_NUMBER_SIZE];
  double f = ew_shown(ew_search_figures[w->what].kind, units, figure);
  return g_strdup(isfinite(f) ? ew_number_shown(f, fabs(f) < 10 ? 2 : 1, buffer) : "-");
}

static void say_row(const struct ew_search_setup *s, const char *name, const double *figures,
                    const int *wide, int wishes, const char *more, enum ew_unit_system units) {
  GString *row = g_string_new(NULL);
  g_string_append_printf(row, "%-10s", name);
  for (int k = 0; k < wishes; k++) {
    g_autofree char *cell = cell_of(wish_at(s, k), figures[k], units);
    g_string_append_printf(row, "%*s%s", 2 + wide[k] - (int)g_utf8_strlen(cell, -1), "", cell);
  }
  ew_say("%s  %s", row->str, more);
  g_string_free(row, TRUE);
}

/* "octane, residual" */
static char *limits_read(const struct ew_search_limits *limits) {
  GString *text = g_string_new(NULL);
  for (int k = 0; k < limits->count; k++)
    g_string_append_printf(text, "%s%s", k ? ", " : "", ew_search_figures[limits->of[k]->what].key);
  return g_string_free(text, FALSE);
}

/* What a row says behind its figures. */
static char *remarks_of(const struct ew_search_setup *s, const struct ew_search_answer *a,
                        const struct ew_search_member *m) {
  GString *text = g_string_new(NULL);
  for (int j = 0; j < a->ask.axes; j++) {
    g_autofree char *one = ew_search_member_says(s, a, m, j);
    g_string_append_printf(text, "%s%s", j ? ", " : "", one);
  }
  g_autofree char *held = limits_read(&m->held), *beyond = limits_read(&m->beyond);
  if (m->alike > 1)
    ew_words_append(text, "; %d told as one", m->alike);
  if (m->beyond.count)
    ew_words_append(text, "; on fine cells beyond the limit on %s", beyond);
  else if (m->held.count)
    ew_words_append(text, "; held by %s", held);
  if (!m->settled)
    g_string_append(text, ew_tr("; did not settle on fine cells"));
  if (a->corners && m->stays_best)
    g_string_append(text, ew_tr("; stays among the best throughout the envelope"));
  else if (a->corners && !m->stands)
    g_string_append(text, ew_tr("; does not keep its limits throughout the envelope"));
  return g_string_free(text, FALSE);
}

static void say_head(const struct ew_search_setup *s, const struct ew_search_answer *a, int *wide,
                     enum ew_unit_system units) {
  GString *head = g_string_new(NULL);
  g_string_append_printf(head, "%-10s", "");
  for (int k = 0; k < a->wishes; k++) {
    g_autofree char *text = heading(wish_at(s, k), units);
    wide[k] = MAX((int)g_utf8_strlen(text, -1), 7);
    g_string_append_printf(head, "%*s%s", 2 + wide[k] - (int)g_utf8_strlen(text, -1), "", text);
  }
  ew_say("%s", head->str);
  g_string_free(head, TRUE);
}

/* The engine as it is may be beyond a limit of the question. */
static char *base_remarks(const struct ew_search_answer *a) {
  g_autofree char *beyond = limits_read(&a->base_beyond);
  if (!a->base_settled)
    return g_strdup(ew_tr("did not settle"));
  return a->base_beyond.count ? ew_words("beyond the limit on %s", beyond) : g_strdup("");
}

static void say_front(const struct ew_search_setup *s, const struct ew_search_answer *a,
                      const gboolean *shown, enum ew_unit_system units) {
  int wide[EW_FIGURES_MOST];
  g_autofree char *base = base_remarks(a);
  say_head(s, a, wide, units);
  say_row(s, ew_tr("as it is"), a->base, wide, a->wishes, base, units);
  for (guint i = 0; i < a->members->len; i++) {
    g_autofree char *number = g_strdup_printf("%u", i + 1);
    g_autofree char *remarks = shown[i] ? remarks_of(s, a, member_at(a, i)) : NULL;
    if (shown[i])
      say_row(s, number, member_at(a, i)->figures, wide, a->wishes, remarks, units);
  }
}

/* Is the engine as it is, within all limits, at least as good in everything wanted, and better in something? */
static gboolean base_beats(const struct ew_search_answer *a, const struct ew_search_member *m) {
  gboolean better = FALSE;
  for (int k = 0; k < a->ask.limits; k++) {
    double y = a->base[a->ask.limit[k].figure];
    if (!(y >= a->ask.limit[k].low && y <= a->ask.limit[k].high))
      return FALSE;
  }
  for (int g = 0; g < a->ask.goals; g++) {
    const struct ew_goal *goal = &a->ask.goal[g];
    double sign = goal->more ? 1 : -1, own = sign * a->base[goal->figure],
           his = sign * m->figures[goal->figure];
    if (!(own >= his))
      return FALSE;
    better |= own > his;
  }
  return better;
}

static void say_base(const struct ew_search_answer *a) {
  int beaten = 0;
  for (guint i = 0; a->base_settled && i < a->members->len; i++)
    beaten += base_beats(a, &g_array_index(a->members, struct ew_search_member, i));
  if (beaten == (int)a->members->len)
    ew_say(
        "The engine as it is is better than each of them in all that is wanted: what it has lies "
        "outside the ranges, or more designs are needed.");
  else if (beaten > 0)
    ew_say("The engine as it is is better than %d of them in all that is wanted.", beaten);
}

/* ---- what two rows differ by ---- */

static void say_difference(const struct ew_search_setup *s, const struct ew_search_answer *a,
                           enum ew_unit_system units) {
  GString *text = g_string_new(NULL);
  for (int k = 0; k < a->wishes; k++) {
    const struct ew_search_figure_about *about = &ew_search_figures[wish_at(s, k)->what];
    char buffer[EW_NUMBER_SIZE];
    double by = EW_SEARCH_COVER * (ew_shown(about->kind, units, a->difference_u[k]) -
                                   ew_shown(about->kind, units, 0));
    const char *unit = ew_kind_shown(about->kind, units);
    if (about->early)
      continue;
    if (!isfinite(by)) { /* too few settled to learn it: then of none */
      g_string_truncate(text, 0);
      break;
    }
    g_string_append_printf(text, "%s%s %s%s%s", text->len ? ", " : "", about->key,
                           ew_number_shown(by, fabs(by) < 10 ? 2 : 1, buffer), ew_unit_space(unit),
                           unit);
  }
  if (text->len)
    ew_say("Two rows are told apart (95 %%) from these differences on: %s. That is what cells and "
           "convergence leave; what the model itself has wrong comes on top.",
           text->str);
  else
    ew_say("What cells leave of a difference between two rows is not known: too few designs "
           "settled on fine cells.");
  g_string_free(text, TRUE);
}

/* ---- at the end of a range ---- */

static void say_end(const struct ew_search_setup *s, const struct ew_search_answer *a, int axis,
                    gboolean high) {
  const struct ew_search_axis *own = g_ptr_array_index(s->question->axes, (guint)axis);
  int there = 0;
  for (guint i = 0; i < a->members->len; i++) {
    const struct ew_search_member *m = member_at(a, i);
    there +=
        ew_search_at_end(s, a, m, axis) && (high ? m->high[axis] > 0.995 : m->low[axis] < 0.005);
  }
  g_autofree char *says = ew_search_axis_says(own, high);
  if (there && a->members->len == 1)
    ew_say("%s: this is an end of its range; a wider one may have better.", says);
  else if (there)
    ew_say("%s: %d of %u rows reach this end of its range; a wider one may have better.", says,
           there, a->members->len);
}

/* ---- the envelope ---- */

/* The least good of the corners for a figure: away from what is wanted, or towards its limit. NaN where one corner did not settle. */
static double worst_at(const struct ew_search_answer *a, const struct ew_search_wish *w,
                       const struct ew_search_member *m, int k) {
  gboolean low = w->wanted ? w->more : isfinite(w->least);
  double worst = m->corner[k];
  for (int c = 1; c < a->corners; c++) {
    double y = m->corner[c * a->wishes + k];
    worst = isnan(y) || isnan(worst) ? NAN : low ? fmin(worst, y) : fmax(worst, y);
  }
  return worst;
}

/* The first corner at which a limit is broken, and which. */
static char *broken_at(const struct ew_search_setup *s, const struct ew_search_answer *a,
                       const struct ew_search_member *m) {
  for (int c = 0; c < a->corners; c++)
    for (int k = 0; k < a->ask.limits; k++) {
      const struct ew_limit *l = &a->ask.limit[k];
      double y = m->corner[c * a->wishes + l->figure];
      g_autofree char *says = ew_search_corner_says(s->question, c);
      if (isnan(y))
        return ew_words("did not settle at %s", says);
      if (y < l->low || y > l->high)
        return ew_words("breaks the limit on %s at %s",
                        ew_search_figures[wish_at(s, l->figure)->what].key, says);
    }
  return g_strdup(m->stays_best ? ew_tr("stays among the best") : "");
}

static void say_envelope(const struct ew_search_setup *s, const struct ew_search_answer *a,
                         const gboolean *shown, enum ew_unit_system units) {
  int wide[EW_FIGURES_MOST];
  if (!a->corners)
    return;
  ew_say("%s", "");
  ew_say("At the %d corners of the envelope, each figure at its worst:", a->corners);
  say_head(s, a, wide, units);
  for (guint i = 0; i < a->members->len; i++) {
    double worst[EW_FIGURES_MOST];
    g_autofree char *number = g_strdup_printf("%u", i + 1);
    g_autofree char *broken = broken_at(s, a, member_at(a, i));
    for (int k = 0; k < a->wishes; k++)
      worst[k] = worst_at(a, wish_at(s, k), member_at(a, i), k);
    if (shown[i])
      say_row(s, number, worst, wide, a->wishes, broken, units);
  }
}

/* ---- what makes the difference ---- */

static int by_share(gconstpointer a, gconstpointer b, gpointer influence) {
  const struct ew_influence *all = influence;
  double x = all[*(const int *)a].all, y = all[*(const int *)b].all;
  return (x < y) - (x > y);
}

static void say_influence_on(const struct ew_search_setup *s, const struct ew_search_answer *a,
                             int k) {
  struct ew_influence *influence = a->influence + k * a->ask.axes;
  int order[EW_AXES_MOST];
  for (int j = 0; j < a->ask.axes; j++)
    order[j] = j;
  g_qsort_with_data(order, a->ask.axes, sizeof *order, by_share, influence);
  GString *text = g_string_new(NULL);
  for (int i = 0; i < a->ask.axes && influence[order[i]].all >= 0.02; i++) {
    const struct ew_search_axis *axis = g_ptr_array_index(s->question->axes, order[i]);
    g_autofree char *share = ew_words("%s %.0f %%", axis->name, 100 * influence[order[i]].all);
    g_string_append_printf(text, "%s%s", i ? ", " : "", share);
  }
  if (text->len)
    ew_say("  %s: %s", ew_search_figures[wish_at(s, k)->what].key, text->str);
  g_string_free(text, TRUE);
}

static void say_influence(const struct ew_search_setup *s, const struct ew_search_answer *a) {
  ew_say("%s", "");
  ew_say("What makes the difference, over all that may be turned (what two do together counts for "
         "both, so the shares may add up to more than 100 %%):");
  for (int k = 0; k < a->wishes; k++)
    say_influence_on(s, a, k);
}

/* ---- the whole ---- */

static void say_counts(const struct ew_search_answer *a) {
  int alike = 0;
  for (guint i = 0; i < a->members->len; i++)
    alike += member_at(a, i)->alike;
  ew_say("%d designs run, %d of them did not settle; %d combinations were barred by limits that "
         "need no run.",
         a->found.designs, a->found.unsound, a->found.barred);
  for (guint i = 0; i < a->reasons->len; i++) {
    const struct ew_search_reason *r = &g_array_index(a->reasons, struct ew_search_reason, i);
    ew_say("  %d: %s", r->count, r->says);
  }
  if (alike == 1)
    ew_say("1 design is left that no other beats; run again on fine cells:");
  else if (alike == (int)a->members->len)
    ew_say(
        "%d are left of which none is better in everything than another, run again on fine cells:",
        alike);
  else
    ew_say("%d are left of which none is better in everything than another. Those that cannot be "
           "told apart share a row, with where they lie; the first of each, run again on fine "
           "cells:",
           alike);
  ew_say("%s", "");
}

void ew_call_search_said(const struct ew_search_setup *s, const struct ew_search_answer *a,
                         gboolean all, enum ew_unit_system units) {
  g_autofree gboolean *shown = g_new(gboolean, MAX(a->members->len, 1));
  ew_search_shown(a, all ? G_MAXINT : SHOWN, shown);
  say_counts(a);
  say_front(s, a, shown, units);
  ew_say("%s", "");
  if (a->members->len > SHOWN && !all)
    ew_say("%d of the %u rows, those most unlike one another, are shown; --all shows each. "
           "--member takes these numbers.",
           SHOWN, a->members->len);
  say_base(a);
  if (a->members->len > 1)
    say_difference(s, a, units);
  for (int j = 0; j < a->ask.axes; j++) {
    say_end(s, a, j, FALSE);
    say_end(s, a, j, TRUE);
  }
  say_envelope(s, a, shown, units);
  say_influence(s, a);
  if (a->keeping)
    ew_say("Kept before and taken: %" G_GINT64_FORMAT " runs.", a->kept.taken);
  ew_say("Predicted, not measured. Check the engine's clearances, and prove spark and mixture from "
         "the safe side.");
}
