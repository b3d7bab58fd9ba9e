/* What to run next: a row is a day at which somebody is tired. */
#include "judge/day_opinion.h"
#include "judge/next.h"
#include "said.h"
#include "unit.h"

static void rows_of_days(void **state) {
  (void)state;
  static const struct {
    const char *says, *ran;
    enum ew_verdict verdict;
    int needed;
    const char *order;
    gboolean rested, unsafe;
    int misfit; /* side; -1: none */
    enum ew_level level;
    enum ew_next_what want;
    const char *want_order, *words;
  } rows[] = {
      {"settled", "ABAB", EW_VERDICT_SAME, 0, NULL, FALSE, FALSE, -1, EW_LEVEL_CONSECUTIVE,
       EW_NEXT_NONE, NULL, "settled"},
      {"a gain that A came back from", "ABA", EW_VERDICT_GAIN, 0, NULL, FALSE, FALSE, -1,
       EW_LEVEL_CONSECUTIVE, EW_NEXT_NONE, NULL, "settled"},
      {"a gain, and everybody wants to go home", "AAABB", EW_VERDICT_GAIN, 0, NULL, FALSE, FALSE,
       -1, EW_LEVEL_CONSECUTIVE, EW_NEXT_RETURN, "A", "A has not run since the first B"},
      {"a loss needs no coming back", "AAABB", EW_VERDICT_LOSS, 0, NULL, FALSE, FALSE, -1,
       EW_LEVEL_CONSECUTIVE, EW_NEXT_NONE, NULL, "settled"},
      {"undecided, A known", "AA B A", EW_VERDICT_UNDECIDED, 4, "B A B A", FALSE, FALSE, -1,
       EW_LEVEL_CONSECUTIVE, EW_NEXT_RUN, "B A B A", "4 more pulls"},
      {"undecided, after lunch", "AABA", EW_VERDICT_UNDECIDED, 4, "B A B A", TRUE, FALSE, -1,
       EW_LEVEL_CONSECUTIVE, EW_NEXT_RUN, "A B A B", "A B A B"},
      {"stopped for each change", "AABB", EW_VERDICT_UNDECIDED, 4, "A A B B", TRUE, FALSE, -1,
       EW_LEVEL_RESTART, EW_NEXT_RUN, "A A B B", "A A B B"},
      {"a pull that fits nothing, though it says gain", "ABAB", EW_VERDICT_GAIN, 0, NULL, FALSE,
       FALSE, 1, EW_LEVEL_CONSECUTIVE, EW_NEXT_REPEAT, "B", "pull 7 fits none"},
      {"the same after a stop: A first", "ABAB", EW_VERDICT_UNDECIDED, 2, "A B", TRUE, FALSE, 1,
       EW_LEVEL_CONSECUTIVE, EW_NEXT_REPEAT, "A B", "pull 7"},
      {"unsafe before anything else", "ABAB", EW_VERDICT_GAIN, 0, NULL, FALSE, TRUE, 1,
       EW_LEVEL_CONSECUTIVE, EW_NEXT_LOOK, NULL, "no more pulls of B"},
      {"not comparable", "AB", EW_VERDICT_NOT_COMPARABLE, 0, NULL, FALSE, FALSE, -1,
       EW_LEVEL_CONSECUTIVE, EW_NEXT_MEND, NULL, "cannot be compared"},
      {"more than anybody will run", "ABAB", EW_VERDICT_UNDECIDED, 0, NULL, FALSE, FALSE, -1,
       EW_LEVEL_CONSECUTIVE, EW_NEXT_LEAVE, NULL, "leave it"},
  };
  for (gsize r = 0; r < G_N_ELEMENTS(rows); r++) {
    struct ew_weight weight[8];
    gsize n = 0;
    for (const char *c = rows[r].ran; *c; c++)
      if (*c != ' ')
        weight[n++] = (struct ew_weight){.side = *c == 'B'};
    g_autoptr(ew_message) why = as_message("knock");
    struct ew_day_opinion day = {.misfit_side = rows[r].misfit, .misfit_pull = 7};
    struct ew_comparison c = {.verdict = rows[r].verdict,
                              .weight = weight,
                              .weights = n,
                              .unsafe = rows[r].unsafe,
                              .danger = why,
                              .invalid = why,
                              .level = rows[r].level,
                              .freedom = 5,
                              .smallest_margin = 0.004,
                              .pulls_needed = rows[r].needed,
                              .next_order = g_strdup(rows[r].order),
                              .cost_minutes = 12,
                              .cost_litres = NAN,
                              .cost_seconds_high = NAN,
                              .day = rows[r].misfit >= 0 ? &day : NULL};
    struct ew_next *next = ew_next(&c, rows[r].rested);
    expect(next->what == rows[r].want, rows[r].says, "%s", ew_next_keys[next->what]);
    expect(g_strcmp0(next->order, rows[r].want_order) == 0, rows[r].says, "%s", next->order);
    assert_true(said(next->says, rows[r].words));
    expect(!rows[r].rested || !next->order || next->order[0] == 'A', rows[r].says,
           "B first after a rest");
    ew_next_free(next);
    g_free(c.next_order);
  }
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(rows_of_days)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
