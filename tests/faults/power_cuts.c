/* Power cuts: deeds one after another on a disk whose power fails at a moment of its own, then the book opened again from what the
 * disk held. All that was acknowledged must be there, the book whole, and a copy that has its name a whole one.
 *
 * EW_CUTS says how many (33), EW_SEED repeats a run. The last test takes the ground away: on a disk that says it synced and did not,
 * acknowledged work must be seen to be lost, or this program proves nothing. */
#include "../unit/unit.h"
#include "deeds.h"
#include "lossy_disk.h"
#include <glib/gstdio.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <unistd.h>

#define DEEDS_MOST 5 /* before and about the cut */

static struct job job;
static char *found; /* the folder of what is found afterwards */
static guint steps_of[DEEDS_COUNT];

static guint number_from(const char *name, guint usual) {
  const char *given = g_getenv(name);
  return given ? (guint)strtoul(given, NULL, 10) : usual;
}

/* How many steps each deed takes: where cuts may lie. */
static void count_steps(void) {
  for (enum deed d = 0; d < DEEDS_COUNT; d++) {
    g_autoptr(GError) error = NULL;
    job_anew(&job);
    disk_watch(job.folder);
    expect(job_do(&job, d, &error), deed_names[d], "%s", error->message);
    steps_of[d] = disk_steps();
    g_autofree char *wrong = job_wrong(&job, job.folder);
    expect(!wrong, deed_names[d], "%s", wrong);
    expect(job.said->count > 0 && steps_of[d] > 2, deed_names[d], "%u said, %u steps",
           job.said->count, steps_of[d]);
  }
}

/* What a child tells: shared with it. */
static struct told {
  gboolean cut;
  char story[400], refused[400];
} * told;

/* The power is gone: what the disk holds is written down, and nothing else of the program is left. */
static void farewell(gpointer random) {
  told->cut = TRUE;
  disk_survivors(random, found);
  _exit(0);
}

static void work(const enum deed *deeds, guint count) {
  for (guint i = 0; i < count; i++) {
    g_autoptr(GError) error = NULL;
    g_strlcat(told->story, deed_names[deeds[i]], sizeof told->story);
    if (!job_do(&job, deeds[i], &error)) {
      g_strlcpy(told->refused, error->message, sizeof told->refused);
      return;
    }
    g_strlcat(told->story, " (done), ", sizeof told->story);
  }
}

/* In a child, which ends as the power does. Returns what was wrong. */
static char *cut(GRand *random, enum deed last, gboolean lies) {
  enum deed deeds[DEEDS_MOST];
  guint count = (guint)g_rand_int_range(random, 1, DEEDS_MOST + 1), steps = 0;
  job_anew(&job);
  folder_empty(found);
  memset(told, 0, sizeof *told);
  for (guint i = 0; i + 1 < count; i++) {
    deeds[i] = (enum deed)g_rand_int_range(random, 0, DEEDS_COUNT);
    steps += steps_of[deeds[i]];
  }
  deeds[count - 1] = last;
  steps += (guint)g_rand_int_range(random, 1, (gint32)steps_of[last] + 1);
  pid_t child = fork();
  assert_true(child >= 0);
  if (child == 0) {
    disk_watch(job.folder);
    disk_set_cut(steps, farewell, random);
    disk_set_lying(lies);
    work(deeds, count);
    farewell(random);
  }
  int status;
  assert_int_equal(waitpid(child, &status, 0), child);
  if (status != 0 || *told->refused)
    return g_strdup_printf("ended with %d, and not for the power: %s", status, told->refused);
  return job_wrong(&job, found);
}

static void test_nothing_acknowledged_is_lost(void **state) {
  (void)state;
  guint cuts = number_from("EW_CUTS", 33), seed = number_from("EW_SEED", 20261201);
  guint amid = 0, said = 0;
  g_autoptr(GRand) random = g_rand_new_with_seed(seed);
  for (guint i = 0; i < cuts; i++) {
    g_autofree char *wrong = cut(random, i % DEEDS_COUNT, FALSE);
    amid += !g_str_has_suffix(told->story, "(done), ");
    said += job.said->count;
    if (wrong)
      fail_msg("cut %u of seed %u, amid %s: %s", i, seed, told->story, wrong);
  }
  print_message("%u power cuts (seed %u), %u of them in the middle of a deed: %u acknowledged "
                "things, all there\n",
                cuts, seed, amid, said);
  assert_true(amid > cuts / 3);
}

static void test_a_disk_that_lies_is_noticed(void **state) {
  (void)state;
  guint lost = 0;
  g_autoptr(GRand) random = g_rand_new_with_seed(7);
  for (guint i = 0; i < DEEDS_COUNT; i++) {
    g_autofree char *wrong = cut(random, i % DEEDS_COUNT, TRUE);
    lost += wrong != NULL;
  }
  print_message("with a disk that lies: %u of %u noticed\n", lost, DEEDS_COUNT);
  assert_true(lost > DEEDS_COUNT / 4);
}

int main(void) {
  const struct CMUnitTest tests[] = {cmocka_unit_test(test_nothing_acknowledged_is_lost),
                                     cmocka_unit_test(test_a_disk_that_lies_is_noticed)};
  job_begin(&job);
  found = g_dir_make_tmp("ew-found-XXXXXX", NULL);
  told = mmap(NULL, sizeof *told, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
  g_assert(told != MAP_FAILED);
  count_steps();
  int failed = cmocka_run_group_tests(tests, NULL, NULL);
  munmap(told, sizeof *told);
  folder_empty(found);
  g_rmdir(found);
  g_free(found);
  job_clear(&job);
  return failed;
}
