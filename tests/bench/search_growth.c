/* What designs cost that are not run: made, told apart, kept in a file of kept runs, found there again, and collected with
 * themselves; by how many there are.
 *
 *   search_growth [MOST]     100, 1,000 ... MOST (100,000) designs of six axes at five speeds; printed by design, with the memory of the whole
 *
 * Processor's seconds, not the clock's. A row is a process of its own, so that memory is its own. */
#include "desk/kept_collect.h"
#include "desk/kept_file.h"
#include "search/rounds.h"
#include <glib/gstdio.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#define AXES   6
#define SPEEDS 5
#define KEPT   8
#define BLOCK  200
#define HEAD   "# enginewright runs 1"

static double seconds(void) {
  return (double)clock() / CLOCKS_PER_SEC;
}

static void key_of(int design, int speed, char *key) {
  g_autofree char *own = g_strdup_printf("%d %d", design, speed);
  g_autofree char *sum = g_compute_checksum_for_string(G_CHECKSUM_SHA256, own, -1);
  g_strlcpy(key, sum, 65);
}

static void stop(GError *error) {
  fprintf(stderr, "search_growth: %s\n", error->message);
  exit(2);
}

/* In blocks: what is added is on the disk when that returns. */
static void keep(const char *path, int n) {
  static const double figures[KEPT] = {1, 250, 1e5, 98, 5e-3, 0.1, 7e6, 1100};
  static char key[BLOCK * SPEEDS][65];
  static struct ew_kept_line line[BLOCK * SPEEDS];
  GError *error = NULL;
  struct ew_kept_file *file = ew_kept_file_open(path, "--keep", HEAD, &error);
  for (int at = 0; file && !error && at < n; at += BLOCK) {
    int rows = MIN(BLOCK, n - at) * SPEEDS;
    for (int k = 0; k < rows; k++) {
      key_of(at + k / SPEEDS, k % SPEEDS, key[k]);
      line[k] = (struct ew_kept_line){key[k], "six figures of an engine", figures, KEPT};
    }
    if (!ew_kept_file_add(file, line, rows, &error))
      break;
  }
  if (!file || error)
    stop(error);
  ew_kept_file_close(file);
}

static int found(const char *path, int n) {
  struct ew_kept_file *file = ew_kept_file_open(path, "--keep", HEAD, NULL);
  int count = 0;
  for (int i = 0; i < n; i++) {
    char key[65];
    double figures[KEPT];
    key_of(i, 0, key);
    count += ew_kept_file_find(file, key, KEPT, figures);
  }
  ew_kept_file_close(file);
  return count;
}

/* Each run stands in two files, as where a share was gathered twice. */
static gint64 collected(const char *path) {
  g_autofree char *into = g_strconcat(path, ".all", NULL);
  char *const files[] = {(char *)path, (char *)path};
  struct ew_kept_collected counts;
  GError *error = NULL;
  if (!ew_kept_collect(files, 2, into, HEAD, &counts, &error))
    stop(error);
  g_remove(into);
  return counts.records;
}

static void row(const char *path, int n) {
  static const struct ew_axis axis[AXES] = {{0}};
  static const struct ew_goal goal = {0, TRUE};
  struct ew_search_ask ask = {
      .axis = axis, .goal = &goal, .axes = AXES, .figures = 1, .goals = 1, .seed = 1, .first = n};
  GError *error = NULL;
  g_autofree double *points = g_new(double, (gsize)n *AXES);
  double at = seconds();
  if (ew_search_first_points(&ask, points, &error) != n)
    stop(error);
  double made = seconds() - at;
  at = seconds();
  keep(path, n);
  double kept = seconds() - at;
  at = seconds();
  int count = found(path, n);
  double again = seconds() - at;
  at = seconds();
  gint64 records = collected(path);
  double gathered = seconds() - at;
  struct rusage used;
  getrusage(RUSAGE_SELF, &used);
  printf("%7d designs: made and told apart %.1f us each, kept %.1f, found again %.1f (%d), "
         "collected %.1f (%d), memory %.0f MB\n",
         n, 1e6 * made / n, 1e6 * kept / n, 1e6 * again / n, count, 1e6 * gathered / n,
         (int)records, (double)used.ru_maxrss / 1024);
  fflush(stdout);
}

int main(int count, char **word) {
  int most = count > 1 ? atoi(word[1]) : 100000, code = 0;
  g_autofree char *folder = g_dir_make_tmp("search-growth-XXXXXX", NULL);
  for (int n = 100; n <= most; n *= 10) {
    g_autofree char *path = g_strdup_printf("%s/%d.txt", folder, n);
    pid_t child = fork();
    if (child == 0) {
      row(path, n);
      _exit(0);
    }
    int status = 1;
    waitpid(child, &status, 0);
    code |= status != 0;
    g_remove(path);
  }
  g_rmdir(folder);
  return code;
}
