/* The body of one level; the including file defines ROWS_NAME. With AVX2 or AVX-512 BW the separators of
 * 64 bytes are found at a time, and a cell of up to 16 bytes becomes digits, then a number, without a
 * loop over its bytes; without them a plain loop does both.
 *
 * 1. Index: the places of delimiters and line feeds in the next stretch of text.
 * 2. Rows: a stretch of `columns` places that ends in the only line feed.
 * 3. Cells: the 16 bytes that end at the place; those before the cell are masked out; the point's byte is
 *    removed by moving what stands before it; digits are joined pairwise (10, 100, 10^4, 10^8).
 *    With AVX-512 four cells at a time, by a plan made from the first row. */
#include "base/table_rows.h"
#include <stdint.h>
#include <string.h>
#if defined(__SSE2__)
#include <immintrin.h>
#endif

#define PLACES 8192 /* of one stretch */

static const double rows_power[] = {1e0, 1e1, 1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                    1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15};

struct index {
  guint places, lines;
  uint32_t place[PLACES + 64]; /* offsets from the start, after one before it */
  uint32_t line[PLACES + 64];  /* how many places lie up to and with each line feed */
};

#if defined(__AVX2__)

static inline void add_places(struct index *index, uint32_t base, uint64_t both, uint64_t feeds) {
  guint n = index->places;
  for (uint64_t m = feeds; m; m &= m - 1)
    index->line[index->lines++] = n + (guint)__builtin_popcountll(both & (m ^ (m - 1)));
  index->places = n + (guint)__builtin_popcountll(both);
  for (; both; n += 4) /* four at a time: those beyond the last are written over later */
    for (guint k = 0; k < 4; k++) {
      index->place[1 + n + k] = base + (uint32_t)_tzcnt_u64(both);
      both &= both - 1;
    }
}

static void fill_index(struct index *index, const char *at, gsize size, char delimiter) {
  index->places = index->lines = 0;
  index->place[0] = UINT32_MAX;
  for (gsize i = 0; i < size && index->places < PLACES - 64; i += 64) {
    uint64_t both, feeds, inside = size - i >= 64 ? ~0ull : (1ull << (size - i)) - 1;
#if defined(__AVX512BW__)
    __m512i x = _mm512_loadu_si512(at + i);
    feeds = _mm512_cmpeq_epi8_mask(x, _mm512_set1_epi8('\n'));
    both = feeds | _mm512_cmpeq_epi8_mask(x, _mm512_set1_epi8(delimiter));
#else
    __m256i x = _mm256_loadu_si256((const __m256i *)(const void *)(at + i)),
            y = _mm256_loadu_si256((const __m256i *)(const void *)(at + i + 32)),
            feed = _mm256_set1_epi8('\n'), mark = _mm256_set1_epi8(delimiter);
    uint64_t fx = (uint32_t)_mm256_movemask_epi8(_mm256_cmpeq_epi8(x, feed)),
             fy = (uint32_t)_mm256_movemask_epi8(_mm256_cmpeq_epi8(y, feed)),
             dx = (uint32_t)_mm256_movemask_epi8(_mm256_cmpeq_epi8(x, mark)),
             dy = (uint32_t)_mm256_movemask_epi8(_mm256_cmpeq_epi8(y, mark));
    feeds = fx | fy << 32;
    both = feeds | dx | dy << 32;
#endif
    add_places(index, (uint32_t)i, both & inside, feeds & inside);
  }
}

static const int8_t lane_number[16] = {0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15};

/* TRUE when text[0..size) is a plain number. */
static inline gboolean plain_cell(const char *text, gsize size, char decimal, double *value) {
  gboolean negative = *text == '-';
  size -= negative;
  if (size - 1 > 15)
    return FALSE;
  const char *end = text + negative + size;
  __m128i x = _mm_loadu_si128((const __m128i *)(const void *)(end - 16));
  __m128i lane = _mm_loadu_si128((const __m128i *)(const void *)lane_number);
  __m128i inside = _mm_cmpgt_epi8(lane, _mm_set1_epi8((char)(15 - (int)size)));
  unsigned point =
      (unsigned)_mm_movemask_epi8(_mm_and_si128(_mm_cmpeq_epi8(x, _mm_set1_epi8(decimal)), inside));
  x = _mm_and_si128(_mm_sub_epi8(x, _mm_set1_epi8('0')), inside);
  unsigned digits = (unsigned)_mm_movemask_epi8(
      _mm_and_si128(_mm_cmpeq_epi8(_mm_min_epu8(x, _mm_set1_epi8(9)), x), inside));
  unsigned cell = 0xffffu & (0xffffu << (16 - size));
  if ((digits | point) != cell || (point & (point - 1)) || digits == 0)
    return FALSE;
  unsigned at = _tzcnt_u32(point | 0x10000u); /* 16: no point */
  unsigned fraction = point ? 15 - at : 0;
  /* what stands up to the point moves on by one byte, over the point */
  __m128i before = _mm_cmpgt_epi8(_mm_set1_epi8((char)(point ? at + 1 : 0)), lane);
  x = _mm_blendv_epi8(x, _mm_slli_si128(x, 1), before);
  x = _mm_maddubs_epi16(x, _mm_set1_epi16(0x010a));
  x = _mm_madd_epi16(x, _mm_set1_epi32(0x00010064));
  x = _mm_packus_epi32(x, x);
  x = _mm_madd_epi16(x, _mm_set1_epi32(0x00012710));
  uint64_t halves = (uint64_t)_mm_cvtsi128_si64(x);
  uint64_t mantissa = (halves & 0xffffffffu) * 100000000u + (halves >> 32);
  if (mantissa >= (uint64_t)1 << 53)
    return FALSE;
  double exact = (double)(int64_t)mantissa / rows_power[fraction];
  *value = exact * (1 - 2 * (int)negative);
  return TRUE;
}

#else

static inline void add_place(struct index *index, gsize at, char byte) {
  index->place[++index->places] = (uint32_t)at;
  if (byte == '\n')
    index->line[index->lines++] = index->places;
}

static void fill_index(struct index *index, const char *at, gsize size, char delimiter) {
  gsize i = 0;
  index->places = index->lines = 0;
  index->place[0] = UINT32_MAX;
#if defined(__SSE2__)
  const __m128i feed = _mm_set1_epi8('\n'), mark = _mm_set1_epi8(delimiter);
  for (; i + 16 <= size && index->places < PLACES - 64; i += 16) {
    __m128i x = _mm_loadu_si128((const __m128i *)(const void *)(at + i));
    unsigned both =
        (unsigned)_mm_movemask_epi8(_mm_or_si128(_mm_cmpeq_epi8(x, feed), _mm_cmpeq_epi8(x, mark)));
    for (; both; both &= both - 1) {
      gsize place = i + (gsize)__builtin_ctz(both);
      add_place(index, place, at[place]);
    }
  }
#endif
  for (; i < size && index->places < PLACES - 64; i++)
    if (at[i] == delimiter || at[i] == '\n')
      add_place(index, i, at[i]);
}

static inline gboolean plain_cell(const char *text, gsize size, char decimal, double *value) {
  gboolean negative = *text == '-';
  gsize length = size - negative;
  if (length - 1 > 15)
    return FALSE;
  uint64_t mantissa = 0;
  unsigned digit, point = 0, after = 0, digits = 0;
  for (const char *at = text + negative, *end = text + size; at < end; at++)
    if ((digit = (unsigned)(*at - '0')) < 10)
      mantissa = mantissa * 10 + digit, after += point, digits++;
    else if (*at == decimal && !point)
      point = 1;
    else
      return FALSE;
  if (digits == 0 || mantissa >= (uint64_t)1 << 53)
    return FALSE;
  double exact = (double)(int64_t)mantissa / rows_power[after];
  *value = negative ? -exact : exact;
  return TRUE;
}
#endif

#if defined(__AVX512BW__)
#define FOUR_CELLS 4

/* Four cells at a time, one in each 128-bit lane, by the steps of plain_cell. place[-1] is the place before
 * the first. FALSE when one of them is not a plain number. */
static inline gboolean four_cells(const char *text, const uint32_t *place, char decimal,
                                  double *value) {
  const __m512i backwards =
      _mm512_broadcast_i32x4(_mm_set_epi8(0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15));
  const __m128i ones = _mm_set1_epi16(-1);
  __m128i ends = _mm_loadu_si128((const __m128i *)(const void *)place),
          befores = _mm_loadu_si128((const __m128i *)(const void *)(place - 1));
  __m128i sizes = _mm_add_epi32(_mm_sub_epi32(ends, befores), _mm_set1_epi32(-1));
  if (_mm_cmp_epu32_mask(_mm_add_epi32(sizes, _mm_set1_epi32(-1)), _mm_set1_epi32(15),
                         _MM_CMPINT_LE) != 0xf)
    return FALSE;
  __m512i size = _mm512_shuffle_epi8(
      _mm512_permutexvar_epi32(_mm512_set_epi32(3, 3, 3, 3, 2, 2, 2, 2, 1, 1, 1, 1, 0, 0, 0, 0),
                               _mm512_castsi128_si512(sizes)),
      _mm512_setzero_si512());
  uint64_t inside = _mm512_cmpgt_epu8_mask(size, backwards);
  __m512i x = _mm512_castsi128_si512(
      _mm_loadu_si128((const __m128i *)(const void *)(text + place[0] - 16)));
  x = _mm512_inserti32x4(x, _mm_loadu_si128((const __m128i *)(const void *)(text + place[1] - 16)),
                         1);
  x = _mm512_inserti32x4(x, _mm_loadu_si128((const __m128i *)(const void *)(text + place[2] - 16)),
                         2);
  x = _mm512_inserti32x4(x, _mm_loadu_si128((const __m128i *)(const void *)(text + place[3] - 16)),
                         3);
  uint64_t minus = _mm512_mask_cmpeq_epi8_mask(inside, x, _mm512_set1_epi8('-'));
  uint64_t point = _mm512_mask_cmpeq_epi8_mask(inside, x, _mm512_set1_epi8(decimal));
  x = _mm512_sub_epi8(x, _mm512_set1_epi8('0'));
  uint64_t digit = _mm512_mask_cmple_epu8_mask(inside, x, _mm512_set1_epi8(9));
  uint64_t not_first = inside & ((inside & 0x7fff7fff7fff7fffu) << 1);
  __m128i points = _mm_cvtsi64_si128((long long)point),
          digits = _mm_cvtsi64_si128((long long)digit), signs = _mm_cvtsi64_si128((long long)minus),
          less = _mm_add_epi16(points, ones);
  if ((minus | point | digit) != inside || (minus & not_first) ||
      _mm_test_epi16_mask(points, less) || (_mm_test_epi16_mask(digits, digits) & 0xf) != 0xf)
    return FALSE;
  __m128i up_to_point =
      _mm_maskz_mov_epi16(_mm_test_epi16_mask(points, points), _mm_or_si128(points, less));
  x = _mm512_maskz_mov_epi8(digit, x);
  x = _mm512_mask_blend_epi8((uint64_t)_mm_cvtsi128_si64(up_to_point), x,
                             _mm512_bslli_epi128(x, 1));
  x = _mm512_maddubs_epi16(x, _mm512_set1_epi16(0x010a));
  x = _mm512_madd_epi16(x, _mm512_set1_epi32(0x00010064));
  x = _mm512_packus_epi32(x, x);
  x = _mm512_madd_epi16(x, _mm512_set1_epi32(0x00012710));
  x = _mm512_add_epi64(_mm512_mul_epu32(x, _mm512_set1_epi64(100000000)), _mm512_srli_epi64(x, 32));
  __m256i mantissa =
      _mm512_castsi512_si256(_mm512_permutexvar_epi64(_mm512_set_epi64(6, 4, 2, 0, 6, 4, 2, 0), x));
  if (_mm256_cmp_epu64_mask(mantissa, _mm256_set1_epi64x((long long)1 << 53), _MM_CMPINT_NLT))
    return FALSE;
  /* decimals: what stands above the point in 16 bits; no point gives 16, which is 0 in four bits */
  __m256i decimals =
      _mm256_sub_epi64(_mm256_lzcnt_epi64(_mm256_cvtepu16_epi64(points)), _mm256_set1_epi64x(48));
  __m512d power =
      _mm512_permutex2var_pd(_mm512_loadu_pd(rows_power), _mm512_castsi256_si512(decimals),
                             _mm512_loadu_pd(rows_power + 8));
  __m256d exact = _mm256_div_pd(_mm256_cvtepu64_pd(mantissa), _mm512_castpd512_pd256(power));
  exact = _mm256_mask_xor_pd(exact, _mm_test_epi16_mask(signs, signs), exact, _mm256_set1_pd(-0.0));
  _mm256_storeu_pd(value, exact);
  return TRUE;
}
#endif

static inline gboolean read_cell(const struct ew_rows_format *f, const char *text, uint32_t begin,
                                 uint32_t end, guint c, double *row) {
  gsize size = end - begin;
  if (c + 1 == f->columns && size > 0 && text[end - 1] == '\r')
    size--;
  return (f->plain[c] && plain_cell(text + begin, size, f->decimal, &row[c])) ||
         f->odd_cell(f->user, c, text + begin, size, &row[c]);
}

#ifdef FOUR_CELLS
/* Which columns are read four at a time (`four` begins them; they may overlap) and which alone: those that
 * are no numbers, or too long in the first row. */
struct plan {
  guint fours, ones;
  uint16_t four[PLACES], one[PLACES];
};

static inline void no_plan(struct plan *plan) {
  plan->fours = plan->ones = 0;
}

static void make_plan(const struct ew_rows_format *f, const char *text, const uint32_t *place,
                      struct plan *plan) {
  plan->fours = plan->ones = 0;
  for (guint c = 0, run = 0; c <= f->columns; c++) {
    gboolean good = c < f->columns && f->plain[c] && place[c] - place[(int)c - 1] - 1 <= 16 &&
                    !(c + 1 == f->columns && place[c] > 0 && text[place[c] - 1] == '\r');
    if (good) {
      run++;
      continue;
    }
    for (guint k = c - run; run >= 4 && k < c; k += 4)
      plan->four[plan->fours++] = (uint16_t)MIN(k, c - 4);
    for (guint k = c - run; run < 4 && k < c; k++)
      plan->one[plan->ones++] = (uint16_t)k;
    if (c < f->columns)
      plan->one[plan->ones++] = (uint16_t)c;
    run = 0;
  }
}

/* place[-1] is the place before the row. */
static inline gboolean read_row(const struct ew_rows_format *f, const struct plan *plan,
                                const char *text, const uint32_t *place, double *row) {
  const char decimal = f->decimal;
  for (guint i = 0; i < plan->fours; i++) {
    guint c = plan->four[i];
    if (four_cells(text, place + c, decimal, row + c))
      continue;
    for (guint k = c; k < c + FOUR_CELLS; k++)
      if (!read_cell(f, text, place[(int)k - 1] + 1, place[k], k, row))
        return FALSE;
  }
  for (guint i = 0; i < plan->ones; i++) {
    guint c = plan->one[i];
    if (!read_cell(f, text, place[(int)c - 1] + 1, place[c], c, row))
      return FALSE;
  }
  return TRUE;
}
#else
struct plan {
  guint columns;
};

static inline void no_plan(struct plan *plan) {
  plan->columns = 0;
}

static void make_plan(const struct ew_rows_format *f, const char *text, const uint32_t *place,
                      struct plan *plan) {
  (void)text, (void)place;
  plan->columns = f->columns;
}

/* place[-1] is the place before the row. */
static inline gboolean read_row(const struct ew_rows_format *f, const struct plan *plan,
                                const char *text, const uint32_t *place, double *row) {
  for (guint c = 0; c < plan->columns; c++)
    if (!read_cell(f, text, place[(int)c - 1] + 1, place[c], c, row))
      return FALSE;
  return TRUE;
}
#endif

gsize ROWS_NAME(const struct ew_rows_format *f, const char *at, const char *end, double *values,
                gsize most, const char **stop);
gsize ROWS_NAME(const struct ew_rows_format *f, const char *at, const char *end, double *values,
                gsize most, const char **stop) {
  struct index index;
  struct plan plan;
  no_plan(&plan);
  gsize rows = 0;
  while (at < end && rows < most) {
    fill_index(&index, at, MIN((gsize)(end - at), 1u << 30), f->delimiter);
    uint32_t begin = 0;
    guint first = 0, line = 0;
    for (; line < index.lines && rows < most; line++, rows++) {
      gboolean whole = index.line[line] - first == f->columns;
      if (whole && rows == 0)
        make_plan(f, at, index.place + 1 + first, &plan);
      if (!whole || !read_row(f, &plan, at, index.place + 1 + first, values + rows * f->columns)) {
        *stop = at + begin;
        return rows;
      }
      first = index.line[line];
      begin = index.place[first] + 1;
    }
    at += begin;
    if (line == 0)
      break;
  }
  *stop = at;
  return rows;
}
