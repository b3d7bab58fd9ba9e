/* Import of a large text table: speed, memory, and every value against strtod.
 *
 * import_bench generate FILE MB   a recording of 64 channels, invented, fixed seed
 * import_bench read FILE          ew_table_stream over it, all columns summed; one line of JSON
 * import_bench check FILE         the bits of every value against strtod; one line of JSON
 * import_bench self               a small table of hard numbers, checked; a test */
#include "base/table.h"
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>

#define CHANNELS 64

static guint64 state = 88172645463325252u;

static guint64 next_random(void) { /* xorshift64, Marsaglia 2003 */
  state ^= state << 13;
  state ^= state >> 7;
  state ^= state << 17;
  return state;
}

/* value of `decimals` decimals as text; returns its end */
static char *put_decimal(char *at, gint64 value, int decimals) {
  char digits[24];
  int n = 0;
  if (value < 0)
    *at++ = '-', value = -value;
  for (; value > 0 || n <= decimals; value /= 10)
    digits[n++] = (char)('0' + value % 10);
  while (n > 0) {
    *at++ = digits[--n];
    if (n == decimals && n > 0)
      *at++ = '.';
  }
  return at;
}

/* Channels wander as those of a logger do; most have 0 to 4 decimals, every 16th is written with all
 * the digits of a double, as a spreadsheet writes a computed column. */
static int generate(const char *path, double megabytes) {
  FILE *file = fopen(path, "w");
  if (!file)
    return 2;
  char line[CHANNELS * 32];
  gint64 level[CHANNELS];
  double written = fprintf(file, "Time [s]");
  for (int c = 1; c < CHANNELS; c++)
    written += fprintf(file, ",Channel %d", c);
  written += fprintf(file, "\n");
  for (int c = 0; c < CHANNELS; c++)
    level[c] = (gint64)(next_random() % 200000) - 20000;
  for (gint64 row = 0; written < megabytes * 1e6; row++) {
    char *at = put_decimal(line, row * 10, 3);
    for (int c = 1; c < CHANNELS; c++) {
      *at++ = ',';
      level[c] += (gint64)(next_random() % 201) - 100;
      if (c % 16 == 7)
        at += sprintf(at, "%.17g", (double)level[c] / 997.0);
      else
        at = put_decimal(at, level[c], c % 5);
    }
    *at++ = '\n';
    fwrite(line, 1, (size_t)(at - line), file);
    written += (double)(at - line);
  }
  return fclose(file) == 0 ? 0 : 2;
}

struct tally {
  gsize rows;
  double sum[CHANNELS];
};

static gboolean add_up(const struct ew_table_layout *layout, const double *values, gsize rows,
                       gpointer user, GError **error) {
  (void)error;
  struct tally *tally = user;
  guint columns = MIN(layout->columns->len, CHANNELS);
  for (gsize r = 0; r < rows; r++)
    for (guint c = 0; c < columns; c++)
      tally->sum[c] += values[r * layout->columns->len + c];
  tally->rows += rows;
  return TRUE;
}

static double seconds_of(clockid_t clock) {
  struct timespec now;
  clock_gettime(clock, &now);
  return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static GInputStream *opened(const char *path) {
  g_autoptr(GFile) file = g_file_new_for_path(path);
  g_autoptr(GError) error = NULL;
  GFileInputStream *input = g_file_read(file, NULL, &error);
  if (!input)
    fprintf(stderr, "%s\n", error->message);
  return (GInputStream *)input;
}

static int read_table(const char *path) {
  g_autoptr(GInputStream) input = opened(path);
  g_autoptr(GError) error = NULL;
  struct tally tally = {0};
  if (!input)
    return 2;
  double wall = seconds_of(CLOCK_MONOTONIC), cpu = seconds_of(CLOCK_PROCESS_CPUTIME_ID);
  struct ew_table_layout *layout = ew_table_stream(input, path, add_up, &tally, &error);
  wall = seconds_of(CLOCK_MONOTONIC) - wall;
  cpu = seconds_of(CLOCK_PROCESS_CPUTIME_ID) - cpu;
  if (!layout) {
    fprintf(stderr, "%s\n", error->message);
    return 2;
  }
  struct rusage usage;
  getrusage(RUSAGE_SELF, &usage);
  printf("{\"seconds\": %.6f, \"cpu_seconds\": %.6f, \"rows\": %zu, \"columns\": %u, \"peak_kb\": "
         "%ld, "
         "\"sums\": [",
         wall, cpu, tally.rows, layout->columns->len, usage.ru_maxrss);
  for (guint c = 0; c < layout->columns->len && c < CHANNELS; c++)
    printf("%s%.17g", c ? ", " : "", tally.sum[c]);
  printf("]}\n");
  ew_table_layout_free(layout);
  return 0;
}

/* Walks the text beside the reader: cell by cell, in order. */
struct checker {
  FILE *file;
  char *line;
  size_t room;
  gsize values, wrong;
};

static gboolean check_rows(const struct ew_table_layout *layout, const double *values, gsize rows,
                           gpointer user, GError **error) {
  (void)error;
  struct checker *checker = user;
  for (gsize r = 0; r < rows; r++) {
    if (getline(&checker->line, &checker->room, checker->file) < 0)
      return FALSE;
    char *at = checker->line;
    for (guint c = 0; c < layout->columns->len; c++) {
      double want = strtod(at, &at), got = values[r * layout->columns->len + c];
      checker->wrong += memcmp(&want, &got, sizeof want) != 0;
      checker->values++;
      at++;
    }
  }
  return TRUE;
}

static int check_table(const char *path, gsize *values) {
  g_autoptr(GInputStream) input = opened(path);
  g_autoptr(GError) error = NULL;
  struct checker checker = {.file = fopen(path, "r")};
  if (!input || !checker.file || getline(&checker.line, &checker.room, checker.file) < 0)
    return 2;
  struct ew_table_layout *layout = ew_table_stream(input, path, check_rows, &checker, &error);
  gboolean whole = layout && getline(&checker.line, &checker.room, checker.file) < 0;
  if (layout)
    ew_table_layout_free(layout);
  else
    fprintf(stderr, "%s\n", error ? error->message : "rows and lines differ");
  fclose(checker.file);
  free(checker.line);
  printf("{\"values\": %zu, \"wrong\": %zu, \"whole\": %s}\n", checker.values, checker.wrong,
         whole ? "true" : "false");
  *values = checker.values;
  return whole && checker.wrong == 0 ? 0 : 1;
}

/* Numbers on which careless readers go wrong: halves between two doubles, many digits, exponents, and a
 * million random ones of every length. */
static int self_test(void) {
  static const char *const hard[] = {"9007199254740993",
                                     "9007199254740992.5",
                                     "-0",
                                     "-0.0",
                                     "0.1",
                                     "123456789012345678",
                                     "1e22",
                                     "1e23",
                                     "5e-324",
                                     "2.2250738585072011e-308",
                                     "179769313486231570000000000000000000000",
                                     "1.7976931348623157e308",
                                     "0.30000000000000004",
                                     "8.5",
                                     "000123.4560",
                                     ".5",
                                     "5.",
                                     "+7.25",
                                     "7.2057594037927933e16",
                                     "36893488147419103232",
                                     "9.5367431640625e-7",
                                     "0.000000000000000000000001"};
  g_autofree char *path = NULL;
  int descriptor = g_file_open_tmp("import-XXXXXX.csv", &path, NULL);
  FILE *file = descriptor >= 0 ? fdopen(descriptor, "w") : NULL;
  if (!file)
    return 2;
  fprintf(file, "a,b,c,d\n");
  gsize rows = 250000, values = 0;
  for (gsize i = 0; i < 4 * rows; i++) {
    const char *end = i % 4 == 3 ? "\n" : ",";
    if (i < 4 * G_N_ELEMENTS(hard))
      fprintf(file, "%s%s", hard[i / 4], end);
    else if (i % 3 == 0) {
      double value = (double)(next_random() >> (next_random() % 60)) *
                     pow(10, -(double)(next_random() % 20)) * (i % 2 ? -1 : 1);
      fprintf(file, "%.*g%s", 1 + (int)(next_random() % 19), value, end);
    } else
      fprintf(file, "%.*f%s", (int)(next_random() % 12),
              (double)(gint64)next_random() / pow(2, 20 + (double)(next_random() % 44)), end);
  }
  fclose(file);
  int result = check_table(path, &values);
  remove(path);
  if (values != 4 * rows)
    result = 1;
  printf(result ? "[  FAILED  ] 1 test(s).\n" : "[  PASSED  ] 1 test(s).\n");
  return result;
}

int main(int count, char **arguments) {
  gsize values;
  if (count == 4 && strcmp(arguments[1], "generate") == 0)
    return generate(arguments[2], atof(arguments[3]));
  if (count == 3 && strcmp(arguments[1], "read") == 0)
    return read_table(arguments[2]);
  if (count == 3 && strcmp(arguments[1], "check") == 0)
    return check_table(arguments[2], &values);
  if (count == 2 && strcmp(arguments[1], "self") == 0)
    return self_test();
  fprintf(stderr, "import_bench generate FILE MB | read FILE | check FILE | self\n");
  return 2;
}
