/* What the unit tests share. A table test names the row that failed by its sentence. */
#pragma once
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>
#include <math.h>
#include <string.h>
#include "base/error.h"

/* Fails with the sentence of the row and what was seen. */
#define expect(truth, says, ...)                                                                   \
  do {                                                                                             \
    if (!(truth)) {                                                                                \
      print_error("%s: not %s; seen: ", says, #truth);                                             \
      print_error(__VA_ARGS__);                                                                    \
      print_error("\n");                                                                           \
      _fail(__FILE__, __LINE__);                                                                   \
    }                                                                                              \
  } while (0)

static inline void near_says(double got, double want, double within, const char *says,
                             const char *file, int line) {
  if (!(fabs(got - want) <= within) && !(isnan(got) && isnan(want))) {
    print_error("%s: got %.17g, wanted %.17g within %.3g\n", says, got, want, within);
    _fail(file, line);
  }
}
#define expect_near(got, want, within, says) near_says(got, want, within, says, __FILE__, __LINE__)

/* A refusal: exit code 2, and every word (separated by '|') is in the message or in its remedy at the command line. */
static inline void refused_says(const GError *error, const char *words, const char *says,
                                const char *file, int line) {
  if (!error || error->domain != EW_ERROR || error->code != EW_ERROR_INPUT) {
    print_error("%s: wanted a refusal, got %s\n", says, error ? error->message : "no error");
    _fail(file, line);
    return;
  }
  g_auto(GStrv) parts = g_strsplit(words, "|", -1);
  g_autofree char *text = ew_error_says(error, EW_AT_COMMAND_LINE);
  for (int i = 0; parts[i]; i++)
    if (!strstr(text, parts[i])) {
      print_error("%s: '%s' is not in: %s\n", says, parts[i], text);
      _fail(file, line);
    }
}
#define expect_refused(error, words, says) refused_says(error, words, says, __FILE__, __LINE__)
