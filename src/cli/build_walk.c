/* build walk: where to turn the crank to, to set each valve. */
#include "cli/build_call.h"
#include "base/words.h"
#include "build/walk.h"
#include "engine/valve_motion.h"

static void say_walk(const GArray *stops) {
  for (guint i = 0; i < stops->len; i++) {
    const struct ew_walk_stop *s = &g_array_index(stops, struct ew_walk_stop, i);
    g_autoptr(GString) valves = g_string_new(NULL);
    for (int k = 0; k < s->count; k++)
      ew_words_append(valves, k ? EW_TEXT(", %d %s (%.0f)") : EW_TEXT("%d %s (%.0f)"),
                      s->valves[k].cylinder, ew_tr(ew_side_name(s->valves[k].side)),
                      s->valves[k].margin_deg);
    g_autofree char *where =
        s->firing && s->companion
            ? ew_words("cylinder %d at firing dead centre, %d rocks", s->firing, s->companion)
        : s->firing ? ew_words("cylinder %d at firing dead centre", s->firing)
                    : g_strdup(ew_tr("by the wheel"));
    ew_say("%2u  turn %3.0f deg, then at %3.0f deg: %-40s set %s", i + 1, s->turn_deg, s->crank_deg,
           where, valves->str);
  }
}

static void write_stop(const void *row, struct ew_json *json) {
  const struct ew_walk_stop *s = row;
  ew_json_number(json, "crank_deg", s->crank_deg);
  ew_json_number(json, "turn_deg", s->turn_deg);
  ew_json_integer(json, "firing", s->firing);
  ew_json_integer(json, "companion", s->companion);
  ew_json_open_array(json, "valves");
  for (int k = 0; k < s->count; k++) {
    g_autofree char *valve =
        g_strdup_printf("%d %s", s->valves[k].cylinder, ew_side_name(s->valves[k].side));
    ew_json_open(json, NULL);
    ew_json_text(json, "valve", valve);
    ew_json_number(json, "margin_deg", s->valves[k].margin_deg);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

static gboolean run_walk(const struct ew_call *call, GError **error) {
  struct ew_build_call b;
  gboolean good = ew_build_call_open(call, FALSE, &b, error);
  g_autoptr(GArray) stops =
      good ? ew_walk(&b.bench.engine, ew_call_has(call, "fewest"), error) : NULL;
  if (stops && call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_rows(&json, "stops", stops, write_stop);
    ew_answer_end(&json);
  } else if (stops) {
    ew_say(
        "%s: turn the crank the way the engine runs, from firing dead centre of the first in the "
        "order.\nIgnition off and leads away. In brackets: crank degrees to the end of the base "
        "circle.\n",
        b.bench.engine_name);
    say_walk(stops);
  }
  ew_build_call_clear(&b);
  return stops != NULL;
}
static const struct ew_option_spec walk_options[] = {
    EW_BUILD_OPTIONS,
    {"fewest", NULL, EW_TEXT("as few crank positions as possible"), FALSE},
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_build_walk = {
    .name = "build walk",
    .summary = EW_TEXT("Crank positions for setting each valve, from firing order and cam"),
    .takes = "",
    .options = walk_options,
    .run = run_walk,
    .examples = "build walk --book six.book\nbuild walk --fewest --book six.book"};
