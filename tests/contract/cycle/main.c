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

static int warnings;
static void count_warning(const char *domain, GLogLevelFlags level, const char *says,
                          gpointer data) {
  (void)domain, (void)level, (void)says, (void)data;
  warnings++;
}

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

/* A device that goes away in the middle, at a few moments: the processor goes on, with the same bits, and it is said. */
static void device_goes_away(void **state) {
  static const int moments[] = {0, 1, 13, 333};
  (void)state;
  const struct ew_cycle_backend *device = ew_cycle_backend_named("opencl");
  if (!device) {
    print_message("skipped: %s\n", ew_opencl_why_not());
    return;
  }
  world_make(&world, 1);
  for (gsize i = 0; i < G_N_ELEMENTS(moments); i++) {
    struct bench there = bench_open(device, &world);
    struct bench here = bench_open(ew_cycle_backend_named("base"), &world);
    for (int l = 0; l < EW_LANES; l++) {
      bench_begin(&there, l, world.laid[l % 2], 2500 + 500 * l);
      bench_begin(&here, l, world.laid[l % 2], 2500 + 500 * l);
    }
    ew_opencl_gone_after(moments[i]);
    guint handler = g_log_set_handler(NULL, G_LOG_LEVEL_WARNING, count_warning, NULL);
    warnings = 0;
    for (int n = 0; n < 60; n++) {
      device->step(there.work, there.state, 1);
      here.backend->step(here.work, here.state, 1);
    }
    g_log_remove_handler(NULL, handler);
    ew_opencl_gone_after(-1);
    assert_int_equal(warnings, 1);
    assert_memory_equal(there.state->value, here.state->value,
                        here.state->rows * sizeof *here.state->value);
    bench_close(&there);
    bench_close(&here);
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
                                     cmocka_unit_test(device_goes_away), cmocka_unit_test(choice)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
