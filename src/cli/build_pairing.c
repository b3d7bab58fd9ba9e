/* build pairing: which piston into which bore. */
#include "cli/build_call.h"
#include "build/fit.h"
#include "build/position.h"
#include <math.h>

/* Least bore and gauge-point size of each cylinder; FALSE when one is missing. */
static gboolean sizes_of(const struct ew_build_call *b, const GArray *lines, double *bores,
                         double *pistons, const struct ew_build_item **clearance, GError **error) {
  int n = b->bench.engine.cylinders;
  *clearance = ew_build_item_known(b->bench.build, "piston clearance");
  const char *larger = *clearance ? (*clearance)->larger : "cylinder bore",
             *smaller = *clearance ? (*clearance)->smaller : "piston";
  for (int i = 0; i < n; i++) {
    bores[i] = INFINITY;
    pistons[i] = NAN;
  }
  for (guint i = 0; i < lines->len; i++) {
    const struct ew_build_line *l = &g_array_index(lines, struct ew_build_line, i);
    int k = ew_build_position_number(l->position) - 1;
    if (k < 0 || k >= n || l->value.count == 0)
      continue;
    if (g_strcmp0(l->name, larger) == 0)
      bores[k] = fmin(bores[k], l->value.mean);
    if (g_strcmp0(l->name, smaller) == 0)
      pistons[k] = l->value.mean;
  }
  for (int i = 0; i < n; i++)
    if (isinf(bores[i]) || isnan(pistons[i]))
      return ew_refuse(error, "'%s' and '%s' of cylinder %d are needed for pairing", larger,
                       smaller, i + 1);
  return TRUE;
}

struct pairing {
  gsize count;
  double wanted_m, worst_m, as_numbered_m;
  struct ew_fit_pair pairs[24];
};

static gboolean find_pairs(const struct ew_call *call, const struct ew_build_call *b,
                           struct pairing *p, GError **error) {
  double bores[24], pistons[24];
  const struct ew_build_item *item;
  g_autoptr(GArray) lines = ew_build_lines(b->bench.build, &b->bench.engine);
  if (!sizes_of(b, lines, bores, pistons, &item, error) ||
      !ew_call_quantity(call, "clearance", EW_KIND_LENGTH,
                        item ? (item->low + item->high) / 2 : (double)NAN, &p->wanted_m, error))
    return FALSE;
  if (isnan(p->wanted_m))
    return ew_refuse(error, "--clearance is needed: the template has no target for it");
  p->count = (gsize)b->bench.engine.cylinders;
  p->worst_m = ew_selective_fit(bores, pistons, p->count, p->wanted_m, p->pairs, &p->as_numbered_m);
  return TRUE;
}

static void json_pairing(const struct pairing *p) {
  struct ew_json json = ew_answer_begin();
  ew_json_number(&json, "wanted_clearance_m", p->wanted_m);
  ew_json_number(&json, "greatest_deviation_m", p->worst_m);
  ew_json_number(&json, "greatest_deviation_as_numbered_m", p->as_numbered_m);
  ew_json_open_array(&json, "pairs");
  for (gsize i = 0; i < p->count; i++) {
    ew_json_open(&json, NULL);
    ew_json_integer(&json, "bore", p->pairs[i].bore);
    ew_json_integer(&json, "piston", p->pairs[i].piston);
    ew_json_number(&json, "clearance_m", p->pairs[i].clearance_m);
    ew_json_close(&json);
  }
  ew_json_close_array(&json);
  ew_answer_end(&json);
}

static void say_pairing(const struct pairing *p, enum ew_unit_system units) {
  ew_say("bore  piston  clearance  (as numbered)");
  for (gsize i = 0; i < p->count; i++) {
    g_autofree char *clearance = ew_build_show(EW_KIND_LENGTH, units, p->pairs[i].clearance_m),
                    *numbered = ew_build_show(EW_KIND_LENGTH, units, p->pairs[i].as_numbered_m);
    ew_say("%4d  %6d  %9s  (%s)", p->pairs[i].bore, p->pairs[i].piston, clearance, numbered);
  }
  g_autofree char *wanted = ew_build_show(EW_KIND_LENGTH, units, p->wanted_m),
                  *worst = ew_build_show(EW_KIND_LENGTH, units, p->worst_m),
                  *numbered = ew_build_show(EW_KIND_LENGTH, units, p->as_numbered_m);
  ew_say("greatest deviation from %s: %s, as numbered %s", wanted, worst, numbered);
}

static gboolean run_pairing(const struct ew_call *call, GError **error) {
  struct ew_build_call b;
  struct pairing p;
  gboolean good = ew_build_call_open(call, TRUE, &b, error) && find_pairs(call, &b, &p, error);
  if (good && call->json)
    json_pairing(&p);
  else if (good)
    say_pairing(&p, call->units);
  ew_build_call_clear(&b);
  return good;
}
static const struct ew_option_spec pairing_options[] = {
    EW_BUILD_OPTIONS,
    {"clearance", "Q", EW_TEXT("clearance wanted (default: the middle of the target)"), FALSE},
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_build_pairing = {
    .name = "build pairing",
    .summary =
        EW_TEXT("Which piston goes into which bore: the least deviation from the wanted clearance"),
    .takes = "",
    .options = pairing_options,
    .run = run_pairing,
    .examples =
        "build pairing --book six.book\nbuild pairing --clearance \"0.080 mm\" --book six.book"};
