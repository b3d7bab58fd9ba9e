/* Names of rows: the layout and test vector of RFC 9562 (appendix A.6), and that they rise. */
#include "base/uuid.h"
#include "unit.h"
#include <math.h>
#include <string.h>

/* A.6: Tuesday, February 22, 2022 2:22:22.00 PM GMT-05:00 */
static void the_vector(void **state) {
  (void)state;
  char uuid[EW_UUID_SIZE];
  ew_uuid7_write(0x017F22E279B0, 0xCC3, G_GUINT64_CONSTANT(0x18C4DC0C0C07398F), uuid);
  assert_string_equal(uuid, "017f22e2-79b0-7cc3-98c4-dc0c0c07398f");
  assert_true(ew_uuid7_is(uuid));
  assert_int_equal(ew_uuid7_unix_ms(uuid), 1645557742000);
}

static void what_is_one(void **state) {
  (void)state;
  static const struct {
    const char *text, *says;
    gboolean is;
  } rows[] = {
      {"017f22e2-79b0-7cc3-98c4-dc0c0c07398f", "the vector", TRUE},
      {"017f22e2-79b0-7cc3-b8c4-dc0c0c07398f", "variant 0b1011", TRUE},
      {"017f22e2-79b0-7cc3-c8c4-dc0c0c07398f", "another variant", FALSE},
      {"017f22e2-79b0-7cc3-78c4-dc0c0c07398f", "the variant of before", FALSE},
      {"017f22e2-79b0-4cc3-98c4-dc0c0c07398f", "version 4", FALSE},
      {"017F22E2-79B0-7CC3-98C4-DC0C0C07398F", "capitals", FALSE},
      {"017f22e279b07cc398c4dc0c0c07398f", "no dashes", FALSE},
      {"017f22e2-79b0-7cc3-98c4-dc0c0c07398", "too short", FALSE},
      {"017f22e2-79b0-7cc3-98c4-dc0c0c07398f0", "too long", FALSE},
      {"", "nothing", FALSE},
  };
  assert_false(ew_uuid7_is(NULL));
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++)
    if (ew_uuid7_is(rows[i].text) != rows[i].is)
      fail_msg("%s: %s", rows[i].says, rows[i].text);
}

/* The ends of each field fall into their places. */
static void the_ends(void **state) {
  (void)state;
  char least[EW_UUID_SIZE], most[EW_UUID_SIZE];
  ew_uuid7_write(0, 0, 0, least);
  ew_uuid7_write(G_MAXUINT64, G_MAXUINT16, G_MAXUINT64, most);
  assert_string_equal(least, "00000000-0000-7000-8000-000000000000");
  assert_string_equal(most, "ffffffff-ffff-7fff-bfff-ffffffffffff");
  assert_true(ew_uuid7_is(least) && ew_uuid7_is(most));
}

#define MANY 20000

/* More than one millisecond takes: each is above the one before, so that they sort as they were made. */
static void they_rise(void **state) {
  (void)state;
  char before[EW_UUID_SIZE] = "", now[EW_UUID_SIZE];
  for (int i = 0; i < MANY; i++) {
    ew_uuid7(now);
    assert_true(ew_uuid7_is(now) && strcmp(before, now) < 0);
    memcpy(before, now, sizeof now);
  }
}

static gpointer make_many(gpointer user) {
  char(*into)[EW_UUID_SIZE] = user;
  for (int i = 0; i < MANY; i++)
    ew_uuid7(into[i]);
  return NULL;
}

static void of_two_threads(void **state) {
  (void)state;
  g_autoptr(GHashTable) met = g_hash_table_new(g_str_hash, g_str_equal);
  char(*all)[EW_UUID_SIZE] = g_malloc(2 * MANY * EW_UUID_SIZE);
  GThread *other = g_thread_new("other", make_many, all + MANY);
  make_many(all);
  g_thread_join(other);
  for (int i = 0; i < 2 * MANY; i++)
    assert_true(g_hash_table_add(met, all[i]));
  g_free(all);
}

/* Of the same thing the same name, wherever it is made. */
static void of_old_rows(void **state) {
  (void)state;
  char one[EW_UUID_SIZE], same[EW_UUID_SIZE], other[EW_UUID_SIZE], undated[EW_UUID_SIZE];
  ew_uuid7_of(1645557742.0, "book pull 1", one);
  ew_uuid7_of(1645557742.0, "book pull 1", same);
  ew_uuid7_of(1645557742.0, "book pull 2", other);
  ew_uuid7_of((double)NAN, "book pull 1", undated);
  assert_string_equal(one, same);
  assert_string_not_equal(one, other);
  assert_memory_equal(one, "017f22e2-79b0-7", 15); /* its time is the row's */
  assert_true(ew_uuid7_is(one) && ew_uuid7_is(undated));
  assert_int_equal(ew_uuid7_unix_ms(undated), 0);
  ew_uuid7_of(-1, "x", undated);
  assert_int_equal(ew_uuid7_unix_ms(undated), 0);
  ew_uuid7_of((double)INFINITY, "x", undated);
  assert_int_equal(ew_uuid7_unix_ms(undated), 0);
}

int main(void) {
  const struct CMUnitTest tests[] = {
      cmocka_unit_test(the_vector),     cmocka_unit_test(what_is_one),
      cmocka_unit_test(the_ends),       cmocka_unit_test(they_rise),
      cmocka_unit_test(of_two_threads), cmocka_unit_test(of_old_rows)};
  return cmocka_run_group_tests(tests, NULL, NULL);
}
