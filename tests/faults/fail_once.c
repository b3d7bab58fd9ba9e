/* Each call that changes a file, and each allocation of SQLite, fails once in turn, in every kind of deed. The deed then succeeds, and stores
 * what it always does, or says an error in words (exit codes 2 and 3) and stores nothing of it; the book is whole; and the second try
 * works (of a campaign over every allocation, every eighth second try). A recording is stored in many transactions: what was acknowledged is there, and the rest may be.
 *
 * Allocations of GLib are not among them: g_malloc ends the program when there is no memory, by design, and what
 * a program that ends so leaves on the disk is what it leaves when it is killed (the kills of tests/scenario).
 * SQLite's come through its own table of methods (SQLITE_CONFIG_MALLOC).
 *
 * EW_EVERY_CALL and EW_EVERY_ALLOCATION take only every so manieth (1: all); without them a slice, and some of the last: what comes
 * after the transaction is no reason to refuse what is stored. EW_DEED takes one deed only, by its
 * name, EW_FROM begins at that call or allocation and EW_TO ends there: a campaign is cut into parts with them. */
#include "../unit/unit.h"
#include "deeds.h"
#include "lossy_disk.h"
#include <glib/gstdio.h>
#include <sqlite3.h>
#include <stdlib.h>

/* ---- memory of SQLite ---- */

static sqlite3_mem_methods usual;
static gint allocations, allocation_at; /* from 1; 0: none fails */

static gboolean no_memory(void) {
  gint count = g_atomic_int_add(&allocations, 1) + 1;
  return count == g_atomic_int_get(&allocation_at);
}
static void *allocate(int size) {
  return no_memory() ? NULL : usual.xMalloc(size);
}
static void *reallocate(void *old, int size) {
  return no_memory() ? NULL : usual.xRealloc(old, size);
}

static void take_memory(void) {
  assert_int_equal(sqlite3_config(SQLITE_CONFIG_GETMALLOC, &usual), SQLITE_OK);
  sqlite3_mem_methods ours = usual;
  ours.xMalloc = allocate;
  ours.xRealloc = reallocate;
  assert_int_equal(sqlite3_config(SQLITE_CONFIG_MALLOC, &ours), SQLITE_OK);
  /* every allocation by itself comes to us */
  assert_int_equal(sqlite3_config(SQLITE_CONFIG_LOOKASIDE, 0, 0), SQLITE_OK);
}

static void set_allocation(gint at) {
  g_atomic_int_set(&allocations, 0);
  g_atomic_int_set(&allocation_at, at);
}

/* ---- one failure ---- */

enum way { WAY_ERROR, WAY_FULL, WAY_SHORT, WAY_MEMORY, WAYS_COUNT };
static const char *const way_names[] = {"an I/O error", "a full disk", "a short write",
                                        "no memory"};
static const enum disk_fault faults[] = {DISK_ERROR, DISK_FULL, DISK_SHORT, DISK_SOUND};

static struct job job;
static char *at_first, *afterwards[DEEDS_COUNT];
static guint most[DEEDS_COUNT][2]; /* calls, allocations */

static gboolean is_asked(enum deed d) {
  const char *only = g_getenv("EW_DEED");
  return !only || strcmp(only, deed_names[d]) == 0;
}

/* As it goes without a failure: how many there are, and what is stored. */
static void count_all(void) {
  at_first = (job_anew(&job), job_digest(job.folder));
  for (enum deed d = 0; d < DEEDS_COUNT; d++) {
    g_autoptr(GError) error = NULL;
    if (!is_asked(d))
      continue;
    job_anew(&job);
    disk_watch(job.folder);
    set_allocation(0);
    expect(job_do(&job, d, &error), deed_names[d], "%s", error->message);
    most[d][0] = disk_steps();
    most[d][1] = (guint)g_atomic_int_get(&allocations);
    disk_forget();
    afterwards[d] = job_digest(job.folder);
    expect(strcmp(at_first, afterwards[d]) != 0, deed_names[d], "nothing stored");
  }
}

static void show(enum deed d, enum way way, guint at, const char *wrong) {
  fail_msg("%s, %s at %u of %u: %s", deed_names[d], way_names[way], at, most[d][way == WAY_MEMORY],
           wrong);
}

/* Whole or not at all: the folder is as it was, or as it is without a failure. */
static void stored_as_said(enum deed d, enum way way, guint at, gboolean good, const GError *told) {
  g_autofree char *wrong = job_wrong(&job, job.folder);
  if (wrong)
    show(d, way, at, wrong);
  if (!deed_is_whole[d])
    return;
  g_autofree char *now = job_digest(job.folder);
  if (strcmp(now, good ? afterwards[d] : at_first) == 0)
    return;
  if (good)
    show(d, way, at, "said to be done, and something else is stored");
  wrong = g_strdup_printf("refused, and %s stored: %s",
                          strcmp(now, afterwards[d]) == 0 ? "all the same" : "half", told->message);
  show(d, way, at, wrong);
}

/* Whether it is done once more after a refusal. Of ten thousand neighbours every eighth: what is stored then is what was stored at
 * first, and only what the process itself remembers could make a difference. */
static gboolean is_tried_again(guint at) {
  return at % 8 == 0 || !g_getenv("EW_EVERY_ALLOCATION");
}

/* TRUE: it was told. */
static gboolean fail_at(enum deed d, enum way way, guint at) {
  g_autoptr(GError) error = NULL, again = NULL;
  job_anew(&job);
  disk_watch(job.folder);
  disk_set(faults[way], way == WAY_MEMORY ? 0 : at);
  set_allocation(way == WAY_MEMORY ? (gint)at : 0);
  gboolean good = job_do(&job, d, &error);
  set_allocation(0);
  disk_forget();
  if (good == (error != NULL) || (error && error->domain != EW_ERROR))
    show(d, way, at, error ? "an error that is not of this program" : "refused without a word");
  stored_as_said(d, way, at, good, error);
  if (good)
    return FALSE;
  if (error->code == EW_ERROR_NO || strlen(error->message) < 12)
    show(d, way, at, error->message);
  if (!is_tried_again(at))
    return TRUE;
  job.number--; /* the same once more */
  if (!job_do(&job, d, &again))
    show(d, way, at, again->message);
  stored_as_said(d, way, at, TRUE, NULL);
  return TRUE;
}

static guint number_from(const char *name, guint without) {
  const char *given = g_getenv(name);
  return given ? (guint)strtoul(given, NULL, 10) : without;
}

#define LAST      160u /* of the slice: so many at the end, ... */
#define LAST_STEP 17u  /* ... every so manieth of them */

static void fail_in_turn(enum way way) {
  /* the slice: a prime, so that it hits other places in every deed */
  guint step = way == WAY_MEMORY ? number_from("EW_EVERY_ALLOCATION", 1999)
                                 : number_from("EW_EVERY_CALL", 41);
  guint runs = 0, told = 0, from = number_from("EW_FROM", 1), to = number_from("EW_TO", G_MAXUINT);
  gboolean part = g_getenv("EW_DEED") || from > 1 || to < G_MAXUINT;
  step = MAX(step, 1);
  for (enum deed d = 0; d < DEEDS_COUNT; d++) {
    guint before = runs, said = told, last = MIN(most[d][way == WAY_MEMORY], to);
    if (!is_asked(d))
      continue;
    for (guint at = from + d % step; at <= last; at += step, runs++)
      told += fail_at(d, way, at);
    for (guint at = last - MIN(last, LAST) + 1;
         way == WAY_MEMORY && !part && step > 1 && at <= last; at += LAST_STEP, runs++)
      told += fail_at(d, way, at);
    if (part || step < 41)
      print_message("  %s: %s at each of %u: %u tried, %u told\n", deed_names[d], way_names[way],
                    most[d][way == WAY_MEMORY], runs - before, told - said);
  }
  print_message("%s once in turn: %u runs, %u told, in the others nothing was lost by it\n",
                way_names[way], runs, told);
  assert_true(told > 0 || part);
}

static void test_errors(void **state) {
  (void)state;
  fail_in_turn(WAY_ERROR);
}
static void test_full_disk(void **state) {
  (void)state;
  fail_in_turn(WAY_FULL);
}
static void test_short_writes(void **state) {
  (void)state;
  fail_in_turn(WAY_SHORT);
}
static void test_memory(void **state) {
  (void)state;
  fail_in_turn(WAY_MEMORY);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(test_errors), cmocka_unit_test(test_full_disk),
      cmocka_unit_test(test_short_writes), cmocka_unit_test(test_memory)};
  take_memory();
  job_begin(&job);
  count_all();
  int failed = cmocka_run_group_tests(tests, NULL, NULL);
  for (enum deed d = 0; d < DEEDS_COUNT; d++)
    g_free(afterwards[d]);
  g_free(at_first);
  job_clear(&job);
  return failed;
}
