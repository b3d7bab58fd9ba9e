/* Every backend of the table held to the contract on every engine, and broken ones caught by it. */
#include "base/error.h"
#include "broken.h"
#include "cycle/backend/opencl.h"
#include "contract.h"
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

static struct world world; /* large: not on the stack */

static void all_backends(void **state) {
  int cases = 0;
  (void)state;
  for (int e = 0; e < WORLDS; e++) {
    world_make(&world, e);
    for (int i = 0; ew_cycle_backends[i]; i++) {
      if (!ew_cycle_backends[i]->here()) {
        print_message("skipped: %s is not on this machine%s%s\n", ew_cycle_backends[i]->name,
                      ew_cycle_backends[i]->step_many ? ": " : "",
                      ew_cycle_backends[i]->step_many ? ew_opencl_why_not() : "");
        continue;
      }
      if (ew_cycle_backends[i]->step_many && e > 1) {
        /* a device that is a processor takes minutes for these; the bits of an eight on a graphics processor: device_bench */
        print_message("%s: not tried on %s\n", ew_cycle_backends[i]->name, world.says);
        continue;
      }
      for (int k = 0; k < contract_checks; k++, cases++) {
        const char *wrong = contract[k].holds(ew_cycle_backends[i], &world);
        if (wrong)
          fail_msg("%s, %s: %s: %s", ew_cycle_backends[i]->name, world.says, contract[k].says,
                   wrong);
      }
    }
    world_clear(&world);
  }
  print_message("%d cases\n", cases);
}

static void broken_ones_are_caught(void **state) {
  (void)state;
  world_make(&world, 1);
  for (int i = 0; i < BROKEN; i++) {
    const char *wrong = NULL;
    for (int k = 0; k < contract_checks && !wrong; k++)
      wrong = contract[k].holds(&broken[i].backend, &world);
    if (!wrong)
      fail_msg("no check sees that %s", broken[i].says);
    print_message("%s: %s\n", broken[i].says, wrong);
  }
  world_clear(&world);
}

static void choice(void **state) {
  (void)state;
  GError *error = NULL;
  assert_non_null(ew_cycle_backend_named("base"));
  assert_null(ew_cycle_backend_named("abacus"));
  g_setenv("ENGINEWRIGHT_SIMD", "abacus", TRUE);
  assert_null(ew_cycle_backend_choose(&error));
  assert_true(g_error_matches(error, EW_ERROR, EW_ERROR_INPUT));
  assert_non_null(strstr(error->message, "abacus"));
  assert_non_null(strstr(error->message, "base"));
  g_clear_error(&error);
  g_setenv("ENGINEWRIGHT_SIMD", "base", TRUE);
  assert_ptr_equal(ew_cycle_backend_choose(&error), ew_cycle_backend_named("base"));
  g_unsetenv("ENGINEWRIGHT_SIMD");
  assert_non_null(ew_cycle_backend_choose(&error));
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(all_backends),
                                     cmocka_unit_test(broken_ones_are_caught),
                                     cmocka_unit_test(choice)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
