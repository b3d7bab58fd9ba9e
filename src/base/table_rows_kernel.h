/* The body of one level; the including file defines ROWS_NAME. With AVX2 or AVX-512 BW the separators of
 * 64 bytes are found at a time, and a cell of up to 16 bytes becomes digits, then a number, without a
 * loop over its bytes; without them a plain loop does both.
 *
 * 1. Index: the places of delimiters and line feeds in the next stretch of text.
 * 2. Rows: a stretch of `columns` places that ends in the only line feed.
 * 3. Cells: the 16 bytes that end at the place; those before the cell are masked out; the point's byte is
 *    removed by moving what stands before it; digits are joined pairwise (10, 100, 10^4, 10^8). */
#include "base/table_rows.h"
#include <stdint.h>
#include <string.h>

#define PLACES 8192 /* of one stretch */

static const double rows_power[] = {1e0, 1e1, 1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                    1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15};

struct index {
  guint places, lines;
  uint32_t place[PLACES + 64]; /* offsets from the start */
  uint32_t line[PLACES + 64];  /* how many places lie up to and with each line feed */
};

#if defined(__AVX2__)
#include <immintrin.h>

static inline void add_places(struct index *index, uint32_t base, uint64_t both, uint64_t feeds) {
  guint n = index->places;
  for (uint64_t m = feeds; m; m &= m - 1)
    index->line[index->lines++] = n + (guint)__builtin_popcountll(both & (m ^ (m - 1)));
  index->places = n + (guint)__builtin_popcountll(both);
  for (; both; n += 4) /* four at a time: those beyond the last are written over later */
    for (guint k = 0; k < 4; k++) {
      index->place[n + k] = base + (uint32_t)_tzcnt_u64(both);
      both &= both - 1;
    }
}

static void fill_index(struct index *index, const char *at, gsize size, char delimiter) {
  index->places = index->lines = 0;
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

static void fill_index(struct index *index, const char *at, gsize size, char delimiter) {
  index->places = index->lines = 0;
  for (gsize i = 0; i < size && index->places < PLACES - 64; i++)
    if (at[i] == delimiter || at[i] == '\n') {
      index->place[index->places++] = (uint32_t)i;
      if (at[i] == '\n')
        index->line[index->lines++] = index->places;
    }
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

static inline gboolean read_row(const struct ew_rows_format *f, const char *text,
                                const uint32_t *place, uint32_t begin, double *row) {
  const guint columns = f->columns;
  const char decimal = f->decimal;
  for (guint c = 0; c < columns; c++) {
    uint32_t end = place[c];
    gsize size = end - begin;
    if (c + 1 == columns && size > 0 && text[end - 1] == '\r')
      size--;
    if (!(f->plain[c] && plain_cell(text + begin, size, decimal, &row[c])) &&
        !f->odd_cell(f->user, c, text + begin, size, &row[c]))
      return FALSE;
    begin = end + 1;
  }
  return TRUE;
}

gsize ROWS_NAME(const struct ew_rows_format *f, const char *at, const char *end, double *values,
                gsize most, const char **stop);
gsize ROWS_NAME(const struct ew_rows_format *f, const char *at, const char *end, double *values,
                gsize most, const char **stop) {
  struct index index;
  gsize rows = 0;
  while (at < end && rows < most) {
    fill_index(&index, at, MIN((gsize)(end - at), 1u << 30), f->delimiter);
    uint32_t begin = 0;
    guint first = 0, line = 0;
    for (; line < index.lines && rows < most; line++, rows++) {
      if (index.line[line] - first != f->columns ||
          !read_row(f, at, index.place + first, begin, values + rows * f->columns)) {
        *stop = at + begin;
        return rows;
      }
      first = index.line[line];
      begin = index.place[first - 1] + 1;
    }
    at += begin;
    if (line == 0)
      break;
  }
  *stop = at;
  return rows;
}
