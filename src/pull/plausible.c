/* The doubts of one pull, gathered; and how each is answered. */
#include "base/statistics.h"
#include "gas/fuel.h"
#include "pull/plausible_kinds.h"
#include "pull/plausible_parts.h"
#include <math.h>
#include <string.h>

#define SAMPLES_MOST  2000
#define CHARGED_SHARE 1.15 /* of the barometer's: more than any tuned inlet gives in the mean */

struct ew_plausible ew_plausible_nothing(void) {
  return (struct ew_plausible){
      .known_pressure_pa = NAN, .known_pressure_age_s = NAN, .right_inertia_kg_m2 = NAN};
}

double ew_plausible_quantile(const struct ew_plausible *p, enum ew_channel channel, double share) {
  const double *x = p->series ? ew_series_values(p->series, channel) : NULL;
  if (!x)
    return NAN;
  gsize first = p->segment ? p->segment->count_first : 0;
  gsize last = p->segment ? p->segment->count_last : p->series->rows;
  g_assert(first <= last && last <= p->series->rows);
  gsize step = MAX((last - first) / SAMPLES_MOST, 1), count = 0, absent;
  g_autofree double *some = g_new(double, (last - first) / step + 1);
  for (gsize i = first; i < last; i += step)
    some[count++] = x[i];
  return ew_quantile(some, count, share, &absent);
}

double ew_plausible_median(const struct ew_plausible *p, enum ew_channel channel) {
  return ew_plausible_quantile(p, channel, 0.5);
}

gboolean ew_plausible_charged(const struct ew_plausible *p) {
  if (p->curve && p->curve->method.charging != EW_NATURAL)
    return TRUE;
  double air = p->curve ? p->curve->conditions.pressure_pa : (double)NAN;
  double manifold = ew_plausible_median(p, EW_CHANNEL_MANIFOLD_PRESSURE);
  return manifold > CHARGED_SHARE * (isnan(air) ? 101325 : air);
}

gboolean ew_plausible_diesel(const struct ew_plausible *p) {
  const char *name = p->setup && p->setup->fuel ? p->setup->fuel
                     : p->engine                ? p->engine->fuel
                                                : NULL;
  const struct ew_fuel *fuel = ew_fuel_find(name);
  return (fuel && strcmp(fuel->name, "diesel") == 0) ||
         (p->curve && p->curve->method.standard == EW_STANDARD_ISO1585_CI);
}

GPtrArray *ew_implausible(const struct ew_plausible *p) {
  g_assert(!p->segment == !p->curve || !p->series);
  GPtrArray *doubts = ew_messages_new();
  ew_doubt_channels(p, doubts);
  ew_doubt_air(p, doubts);
  ew_doubt_balance(p, doubts);
  ew_doubt_engine(p, doubts);
  ew_doubt_before(p, doubts);
  return doubts;
}

/* ---- how each is answered ---- */

#define X(name, id, mend, text) EW_MESSAGE_PUBLIC(ew_doubt_##name, id, EW_CAUTION, text);
EW_DOUBTS(X)
#undef X

static const struct {
  const struct ew_message_kind *kind;
  const char *mend;
} mends[] = {
#define X(name, id, mend, text) {&ew_doubt_##name, mend},
    EW_DOUBTS(X)
#undef X
};

/* What stands in the place of {name} of a command. */
static char *in_place(const ew_message *doubt, const char *name, gint64 pull_id) {
  if (strcmp(name, "over") == 0) {
    const char *about = ew_message_subject(doubt);
    return about && g_str_has_prefix(about, EW_DOUBT_RECORDED)
               ? g_strdup_printf("--units \"%s=not fitted\" ", about + strlen(EW_DOUBT_RECORDED))
               : g_strdup("");
  }
  const struct ew_argument *a = ew_message_argument(doubt, name);
  if (strcmp(name, "pull") == 0)
    return g_strdup_printf("%" G_GINT64_FORMAT, pull_id);
  if (strcmp(name, "about") == 0)
    return g_strdup(ew_message_subject(doubt));
  return a && a->kind == EW_ARGUMENT_TEXT ? g_strdup(a->text)
                                          : g_strdup("..."); /* a book may hold what it will */
}

char *ew_plausible_mend(const ew_message *doubt, gint64 pull_id) {
  const char *mend = NULL;
  for (gsize i = 0; i < G_N_ELEMENTS(mends); i++)
    if (ew_message_is(doubt, mends[i].kind))
      mend = mends[i].mend;
  if (!mend)
    return NULL;
  GString *command = g_string_new(NULL);
  for (const char *at = mend; *at; at++) {
    const char *end = *at == '{' ? strchr(at, '}') : NULL;
    if (!end) {
      g_string_append_c(command, *at);
      continue;
    }
    g_autofree char *name = g_strndup(at + 1, (gsize)(end - at - 1));
    g_autofree char *text = in_place(doubt, name, pull_id);
    g_string_append(command, text);
    at = end;
  }
  return g_string_free(command, FALSE);
}
