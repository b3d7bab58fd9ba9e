/* build pairing: which piston into which bore. */
#include "cli/build_call.h"
#include "desk/pairing.h"
#include <math.h>

static gboolean find_pairs(const struct ew_call *call, const struct ew_build_call *b,
                           struct ew_pairing *p, GError **error) {
  double wanted;
  return ew_call_quantity(call, "clearance", EW_KIND_LENGTH, NAN, &wanted, error) &&
         ew_bench_pairing(&b->bench, wanted, p, error);
}

static void json_pairing(const struct ew_pairing *p) {
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

static void say_pairing(const struct ew_pairing *p, enum ew_unit_system units) {
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
  struct ew_pairing p;
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
