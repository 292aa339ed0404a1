/* The search of polyphony.py and the features of texture.py and beside.py once more, compiled: for
 * finding the figures only (voices_fit.py), where it has to be run some hundred times. What a feature
 * means and how tables are laid out is said there; tests/voicing/test_twin.py holds the two together.
 * Times in ticks, registers in quarters of a semitone, voices from 0 at the top, -1 for no note.
 */
#include <stdlib.h>
#include <string.h>

enum { MOST = 4, BACK = 4, FEATURES = 600, WAYS = 100000 };

/* In the order of figures.SIZES. */
enum {
    NEAR_REGISTER, WIDE_REGISTER, OWN_REGISTER, FIRST_ENTRY, LEAP, REST, LENGTH, STEP_AND_LENGTH,
    EQUAL_LENGTHS, TO_AND_FRO, PACE, AFTER_A_LEAP, AFTER_A_STEP, FIGURE, CROSSING_DEPTH, CROSSING,
    UNISON, DISTANCE, IN_ORDER, PAST_RESTING, TOGETHER, PARALLELS, SAME_DIRECTION, APART, SILENCE,
    NOT_YET_HEARD, MOVE, DEGREES, MOVE_ON_BEAT, TWO_MOVES, OWN_OF_KIND, HEIGHT, LENGTH_OF_KIND,
    LONGER, FIFTHS, INTERVALS, REPEATS, RESOLUTION, WHO_RESTS, TABLES
};

typedef struct { int last[MOST][BACK], row[MOST], reg[MOST]; } Past;
typedef struct { double worth; Past past; int before, taken[MOST]; } Reading;
typedef struct { double worth; int from, taken[MOST], last[MOST]; } Candidate;
typedef struct { int at[FEATURES], size; } Features;
typedef struct {
    int count, beat, moments;
    const int *onset, *end, *pitch, *length;      /* of the notes */
    const int *starts, *near, *wide, *key;        /* of the moments; starts has one more */
} Piece;

static int start[TABLES];
static Piece piece;

int tables(void) { return TABLES; }
int size_of_past(void) { return sizeof(Past); }
void begin(const int *starts_of_tables) { memcpy(start, starts_of_tables, sizeof start); }

void load(int count, int beat, int moments, const int *onset, const int *end, const int *pitch,
          const int *length, const int *starts, const int *near, const int *wide, const int *key)
{
    Piece given = { count, beat, moments, onset, end, pitch, length, starts, near, wide, key };
    piece = given;
}

static int least(int a, int b) { return a < b ? a : b; }
static int most(int a, int b) { return a > b ? a : b; }
static int within(int low, int x, int high) { return most(low, least(high, x)); }
static int size(int x) { return x < 0 ? -x : x; }
static int sign(int x) { return (x > 0) - (x < 0); }
static int twelve(int x) { return (x % 12 + 12) % 12; }
static int floored(long a, long b)
{
    long q = a / b;
    return (int)(a % b && (a < 0) != (b < 0) ? q - 1 : q);
}

static const int REST_CLASS[] = { 0, 1, 1, 1, 2, 2, 3, 3, 3, 3 };
static const int ROWS[] = { 0, 0, 1, 2, 3, 3, 4, 4, 5 };

static int kind(int v)
{
    return v == 0 ? 0 : v == piece.count - 1 ? 3 : v < piece.count / 2 ? 1 : 2;
}

static int rest(int ticks)
{
    static const int tenths[] = { 3, 6, 11, 21, 41, 81, 161, 321 };
    if (ticks <= 0) return 0;
    for (int i = 0; i < 8; i++)
        if (10 * ticks <= tenths[i] * piece.beat) return i + 1;
    return 9;
}

static int interval(int move)
{
    int s = size(move);
    return s <= 12 ? s : s <= 15 ? 13 : s <= 19 ? 14 : 15;
}

static int step_of(int move)
{
    static const int steps[] = { 0, 0, 0, 1, 1, 2, 2, 3, 4, 4, 5, 5, 6, 6, 6 };
    return steps[within(-7, move, 7) + 7];
}

static int move_of(int move)
{
    static const int moves[] = { 0, 1, 1, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 11, 11, 12 };
    return moves[within(-8, move, 8) + 8];
}

static int offset(int quarters) { return within(-9, floored(quarters + 4, 8), 9) + 9; }

static int ratio(int before, int after)
{
    static const int plain[6][2] = { {2, 1}, {1, 2}, {3, 1}, {1, 3}, {4, 1}, {1, 4} };
    if (before == after) return 0;
    for (int i = 0; i < 6; i++)
        if (labs((long)after * plain[i][1] - (long)before * plain[i][0]) * 50
            <= (long)before * plain[i][0])
            return i + 1;
    return after > before ? 7 : 8;
}

static int length_class(int length)
{
    static const int eighths[] = { 1, 2, 4, 6, 8, 16, 24 };
    int found = 0;
    for (int i = 0; i < 7; i++) found += 8 * length > eighths[i] * piece.beat;
    return found;
}

static int off(int tone) { return piece.onset[tone] % piece.beat != 0; }
static void add(Features *f, int table, int place) { f->at[f->size++] = start[table] + place; }

void silent(Past *p)
{
    memset(p->last, -1, sizeof p->last);
    memset(p->row, 0, sizeof p->row);
    memset(p->reg, 0, sizeof p->reg);
}

static void grow(Past *p, int v, int tone)
{
    int last = p->last[v][0], pitch = 4 * piece.pitch[tone], length = piece.length[tone];
    if (last < 0) {
        p->row[v] = 1;
        p->reg[v] = pitch;
    } else {
        int on = piece.length[last] == length && piece.end[last] == piece.onset[tone];
        p->row[v] = on ? least(p->row[v] + 1, 8) : 1;
        p->reg[v] += floored((long)(pitch - p->reg[v]) * length, length + 12 * piece.beat / 5);
    }
    memmove(&p->last[v][1], &p->last[v][0], (BACK - 1) * sizeof(int));
    p->last[v][0] = tone;
}

static void joined(Features *f, const Past *p, int v, int tone, int gap)
{
    int last = p->last[v][0], k = kind(v), q = ratio(piece.length[last], piece.length[tone]);
    int move = piece.pitch[tone] - piece.pitch[last], leap = interval(move), same = q == 0;
    int away = offset(4 * piece.pitch[tone] - p->reg[v]);
    int far = leap == 0 ? 0 : leap <= 2 ? 1 : leap <= 4 ? 2 : leap <= 7 ? 3 : leap < 12 ? 4 : 5;
    add(f, OWN_REGISTER, gap * 19 + away);
    add(f, OWN_OF_KIND, (k * 4 + gap) * 19 + away);
    add(f, LEAP, gap * 16 + leap);
    add(f, LENGTH, (gap > 0) * 9 + q);
    add(f, STEP_AND_LENGTH, (least(leap, 3) * 2 + same) * 4 + gap);
    add(f, EQUAL_LENGTHS, (ROWS[p->row[v]] * 2 + (gap == 0)) * 2 + same);
    add(f, MOVE_ON_BEAT, (off(tone) * 6 + far) * 2 + off(last));
    if (gap == 0) add(f, MOVE, k * 27 + within(-13, move, 13) + 13);
}

static void figures_of(Features *f, const Past *p, int v, int tone, int gap)
{
    const int *l = p->last[v], *pi = piece.pitch, *le = piece.length, *on = piece.onset;
    int before = pi[l[0]] - pi[l[1]], now = pi[tone] - pi[l[0]], move = interval(now);
    int back = pi[tone] == pi[l[1]], alike = le[tone] == le[l[1]], same = le[tone] == le[l[0]];
    int pace = on[tone] - on[l[0]] == on[l[0]] - on[l[1]];
    int turn = now == 0 ? 0 : before * now < 0 ? 1 : 2;
    add(f, TO_AND_FRO, (back * 2 + alike) * 4 + (before == 0) * 2 + (gap > 0));
    add(f, PACE, (pace * 4 + gap) * 2 + same);
    if (size(before) >= 3)
        add(f, AFTER_A_LEAP, (least(size(before) / 3, 4) * 3 + turn) * 5 + least(move / 3, 4));
    else
        add(f, AFTER_A_STEP, (size(before) * 3 + turn) * 7 + least(move / 2, 6));
    if (gap == 0) add(f, TWO_MOVES, (kind(v) * 7 + step_of(before)) * 13 + move_of(now));
    if (l[2] >= 0) {
        int three = pi[l[2]] == pi[tone] && le[l[2]] == le[tone];
        int four = l[3] >= 0 && pi[l[3]] == pi[tone] && le[l[3]] == le[tone];
        int swing = back && alike && before != 0, even = same && le[l[1]] == le[l[0]];
        add(f, FIGURE, three * 8 + four * 4 + swing * 2 + even);
    }
}

static void alone(Features *f, const Past *p, int v, int tone, int near, int wide, int key)
{
    int k = kind(v), pitch = piece.pitch[tone], last = p->last[v][0], tonic = key / 2;
    add(f, NEAR_REGISTER, k * 19 + offset(4 * pitch - near));
    add(f, WIDE_REGISTER, k * 19 + offset(4 * pitch - wide));
    add(f, HEIGHT, k * 14 + within(0, floored(pitch - 34, 4), 13));
    add(f, LENGTH_OF_KIND, k * 8 + length_class(piece.length[tone]));
    if (last < 0) {
        add(f, FIRST_ENTRY, k);
        return;
    }
    int pause = rest(piece.onset[tone] - piece.end[last]), gap = REST_CLASS[pause];
    joined(f, p, v, tone, gap);
    add(f, REST, pause * 4 + k);
    if (gap <= 1)
        add(f, DEGREES, k * 288 + (key % 2 * 12 + twelve(piece.pitch[last] - tonic)) * 12
                            + twelve(pitch - tonic));
    if (p->last[v][1] >= 0) figures_of(f, p, v, tone, gap);
}

static int gap_of(int now, int old, int new)
{
    return old < 0 || new < 0 ? 0 : REST_CLASS[rest(now - piece.end[old])];
}

static int order_of(int a, int b)
{
    if (a < 0 || b < 0) return 2;
    if (piece.pitch[a] > piece.pitch[b]) return 0;
    if (piece.pitch[a] == piece.pitch[b]) return 3;
    int until = least(piece.end[a], piece.end[b]);
    return until > most(piece.onset[a], piece.onset[b]) ? 1 : 4;
}

static void heights(Features *f, int now, int u, int v, int depth, const int *old, const int *new)
{
    int order = order_of(old[0], old[1]), both = new[0] >= 0 && new[1] >= 0, far = v - u > 1;
    int gap = most(gap_of(now, old[0], new[0]), gap_of(now, old[1], new[1]));
    int state = ((order * 4 + gap) * 2 + both) * 2 + far, where = (both * 4 + kind(u)) * 4 + kind(v);
    if (depth > 0) {
        add(f, CROSSING_DEPTH, (where * 2 + far) * 10 + (depth <= 7 ? depth : depth <= 12 ? 8 : 9));
        add(f, CROSSING, state);
    } else if (depth == 0) {
        add(f, UNISON, where * 5 + order);
    } else {
        add(f, DISTANCE, ((kind(u) * 4 + kind(v)) * 2 + far) * 9 + least(-depth / 3, 8));
        add(f, IN_ORDER, state);
    }
}

static void contrast(Features *f, int u, int v, int depth, int x, int y, const int *old,
                     const int *new)
{
    int couple = piece.count <= 2 ? 0 : least(5, u * 3 + v - 1 - u * (u + 1) / 2);
    int stand = depth < 0 ? 0 : depth == 0 ? 1 : 2, both = new[0] >= 0 && new[1] >= 0;
    int place = (stand * 6 + couple) * 2 + both, again[2];
    int longer = piece.length[x] < piece.length[y] ? 0 : piece.length[x] == piece.length[y] ? 1 : 2;
    add(f, LONGER, longer * 36 + place);
    for (int i = 0; i < 2; i++)
        again[i] = new[i] >= 0 && old[i] >= 0 && piece.pitch[new[i]] == piece.pitch[old[i]];
    if (again[0] != again[1]) add(f, REPEATS, again[0] * 36 + place);
}

static void intervals(Features *f, int u, int v, int before, const int *old, const int *new)
{
    const int *pi = piece.pitch;
    int depth = pi[new[0]] - pi[new[1]], far = v - u > 1, bottom = v == piece.count - 1;
    int first = sign(pi[new[0]] - pi[old[0]]), second = sign(pi[new[1]] - pi[old[1]]);
    add(f, INTERVALS, ((before * 12 + twelve(depth)) * 2 + far) * 2 + bottom);
    if (before == twelve(depth) && (before == 0 || before == 7) && first)
        add(f, FIFTHS, ((before == 7) * 2 + (first != second)) * 2 + (depth < 0));
}

static void resolved(Features *f, int now, int u, int v, const int *old, const int *new)
{
    int before = twelve(piece.pitch[old[0]] - piece.pitch[old[1]]), far = v - u > 1, moves[2];
    int both = new[0] >= 0 && new[1] >= 0;
    for (int i = 0; i < 2; i++)
        moves[i] = new[i] >= 0 ? step_of(piece.pitch[new[i]] - piece.pitch[old[i]]) : -1;
    for (int i = 0; i < 2; i++)
        if (moves[i] >= 0)
            add(f, RESOLUTION, ((before * 7 + moves[i]) * 2 + both) * 4 + 2 * i + far);
    if (both && piece.end[old[0]] == now && piece.end[old[1]] == now)
        intervals(f, u, v, before, old, new);
}

static void partners(Features *f, int now, const int *old, const int *new)
{
    int a = old[0], b = old[1], x = new[0], y = new[1];
    const int *pi = piece.pitch;
    if (piece.onset[a] != piece.onset[b] || piece.length[a] != piece.length[b]) return;
    if (x < 0 || y < 0) {
        add(f, APART, REST_CLASS[rest(now - piece.end[a])]);
        return;
    }
    add(f, TOGETHER, piece.length[x] == piece.length[y]);
    if (piece.end[a] != now) return;
    int before = twelve(pi[a] - pi[b]), after = twelve(pi[x] - pi[y]);
    if (before == after && (before == 0 || before == 7) && pi[a] != pi[x])
        add(f, PARALLELS, (before == 7) * 2 + (pi[a] == pi[b]));
    add(f, SAME_DIRECTION, sign(pi[x] - pi[a]) == sign(pi[y] - pi[b]));
}

static void pair(Features *f, const Past *p, int now, int u, int v, const int *taken)
{
    int old[2] = { p->last[u][0], p->last[v][0] }, new[2] = { taken[u], taken[v] };
    int x = new[0] >= 0 ? new[0] : old[0], y = new[1] >= 0 ? new[1] : old[1];
    if (x < 0 || y < 0) return;
    int depth = piece.pitch[y] - piece.pitch[x], sounds = piece.end[x] > now;
    if (sounds && piece.end[y] > now) {
        heights(f, now, u, v, depth, old, new);
        contrast(f, u, v, depth, x, y, old, new);
    } else {
        int gap = REST_CLASS[rest(now - piece.end[sounds ? old[1] : old[0]])];
        int past = depth < 0 ? 0 : depth == 0 ? 1 : least(5, 2 + depth / 3);
        add(f, PAST_RESTING, (gap * 6 + past) * 5 + order_of(old[0], old[1]));
    }
    if (old[0] < 0 || old[1] < 0) return;
    if (piece.end[old[0]] >= now && piece.end[old[1]] >= now) resolved(f, now, u, v, old, new);
    partners(f, now, old, new);
}

static int is_free(const Past *p, int v, int now)
{
    return p->last[v][0] < 0 || piece.end[p->last[v][0]] <= now;
}

static void resting(Features *f, const Past *p, int now, const int *taken)
{
    int silent_kinds = 0, idle = 0, taking = 0;
    for (int v = 0; v < piece.count; v++) {
        int last = p->last[v][0];
        silent_kinds |= (taken[v] < 0 && is_free(p, v, now)) << kind(v);
        idle |= (last < 0 || piece.end[last] < now) << kind(v);
        taking += taken[v] >= 0;
    }
    add(f, WHO_RESTS, (silent_kinds * 2 + (silent_kinds != idle)) * 2 + (taking > 1));
}

/* All that speaks for one way to give out the notes of moment m. */
static void whole(Features *f, const Past *p, int m, const int *taken)
{
    int count = piece.count, now = piece.onset[piece.starts[m]], sounding = 0;
    f->size = 0;
    for (int v = 0; v < count; v++) {
        sounding += taken[v] >= 0 || !is_free(p, v, now);
        if (taken[v] >= 0)
            alone(f, p, v, taken[v], piece.near[m * count + v], piece.wide[m * count + v],
                  piece.key[m]);
    }
    for (int u = 0; u < count; u++)
        for (int v = u + 1; v < count; v++)
            if (taken[u] >= 0 || taken[v] >= 0) pair(f, p, now, u, v, taken);
    resting(f, p, now, taken);
    for (int v = 0; v < count; v++) {
        int last = p->last[v][0];
        if (taken[v] >= 0 || !is_free(p, v, now)) continue;
        if (last < 0) add(f, NOT_YET_HEARD, kind(v));
        else add(f, SILENCE, (rest(now - piece.end[last]) * 4 + kind(v)) * 5 + least(sounding, 4));
    }
}

/* The e-th way to give the notes of moment m to free voices; 0 where it gives a voice two. */
static int nth_way(int e, int m, const int *free_voices, int free_count, int *taken)
{
    for (int v = 0; v < piece.count; v++) taken[v] = -1;
    for (int tone = piece.starts[m]; tone < piece.starts[m + 1]; tone++) {
        int v = free_voices[e % free_count];
        if (taken[v] >= 0) return 0;
        taken[v] = tone;
        e /= free_count;
    }
    return 1;
}

static int compared(const void *one, const void *other)
{
    const Candidate *a = one, *b = other;
    if (a->worth != b->worth) return a->worth < b->worth ? 1 : -1;
    if (a->from != b->from) return a->from - b->from;
    return memcmp(a->taken, b->taken, sizeof a->taken);
}

static Candidate candidates[WAYS];
static int found_count;

static void keep(const Candidate *c)
{
    int i = 0;
    while (i < found_count && memcmp(candidates[i].last, c->last, sizeof c->last)) i++;
    if (i == found_count) candidates[found_count++] = *c;
    else if (c->worth > candidates[i].worth) candidates[i] = *c;
}

/* Every way on from reading r at moment m. `truth` given: wrong notes are worth `margin` more. */
static void extend(const Reading *r, int from, int m, const double *figures, const int *truth,
                   const int *scored, double margin)
{
    int free_voices[MOST], free_count = 0, ways = 1, now = piece.onset[piece.starts[m]];
    static Features features;
    for (int v = 0; v < piece.count; v++)
        if (is_free(&r->past, v, now)) free_voices[free_count++] = v;
    for (int i = piece.starts[m]; i < piece.starts[m + 1]; i++) ways *= free_count;
    for (int e = 0; e < ways; e++) {
        Candidate c = { .from = from };
        if (!nth_way(e, m, free_voices, free_count, c.taken)) continue;
        whole(&features, &r->past, m, c.taken);
        c.worth = r->worth;
        for (int i = 0; i < features.size; i++) c.worth += figures[features.at[i]];
        for (int v = 0; v < MOST; v++) {
            int tone = v < piece.count ? c.taken[v] : (c.taken[v] = -1);
            c.last[v] = tone >= 0 || v >= piece.count ? tone : r->past.last[v][0];
            if (truth && tone >= 0 && truth[tone] != v) c.worth += margin * scored[tone];
        }
        keep(&c);
    }
}

static Reading *readings;
static int *first_of, room_readings, room_moments;

/* The best reading of moments `from` to `to`, into `found`. Returns its worth. */
double search(int from, int to, const double *figures, int width, double behind, const int *truth,
              const int *scored, double margin, const Past *begins, int *found)
{
    int moments = to - from;
    if (room_readings < (moments + 1) * width)
        readings = realloc(readings, sizeof(Reading) * (room_readings = (moments + 1) * width));
    if (room_moments < moments + 2)
        first_of = realloc(first_of, sizeof(int) * (room_moments = moments + 2));
    readings[0].worth = 0;
    readings[0].past = *begins;
    readings[0].before = -1;
    first_of[0] = 0;
    first_of[1] = 1;
    for (int k = 0; k < moments; k++) {
        int next = first_of[k + 1];
        found_count = 0;
        for (int r = first_of[k]; r < first_of[k + 1]; r++)
            extend(&readings[r], r, from + k, figures, truth, scored, margin);
        qsort(candidates, found_count, sizeof(Candidate), compared);
        for (int i = 0; i < found_count && i < width; i++) {
            if (candidates[i].worth < candidates[0].worth - behind) break;
            Reading *r = &readings[next++];
            r->worth = candidates[i].worth;
            r->before = candidates[i].from;
            r->past = readings[r->before].past;
            memcpy(r->taken, candidates[i].taken, sizeof r->taken);
            for (int v = 0; v < piece.count; v++)
                if (r->taken[v] >= 0) grow(&r->past, v, r->taken[v]);
        }
        first_of[k + 2] = next;
    }
    int r = first_of[moments];
    double worth = readings[r].worth;
    for (; readings[r].before >= 0; r = readings[r].before)
        for (int v = 0; v < piece.count; v++)
            if (readings[r].taken[v] >= 0) found[readings[r].taken[v]] = v;
    return worth;
}

/* How often each figure speaks for `labels`, times `times`, added to `total` (NULL: only walk). */
void count(int from, int to, const int *labels, Past *past, double times, double *total)
{
    static Features features;
    for (int m = from; m < to; m++) {
        int taken[MOST] = { -1, -1, -1, -1 };
        for (int tone = piece.starts[m]; tone < piece.starts[m + 1]; tone++)
            taken[labels[tone]] = tone;
        if (total) {
            whole(&features, past, m, taken);
            for (int i = 0; i < features.size; i++) total[features.at[i]] += times;
        }
        for (int v = 0; v < piece.count; v++)
            if (taken[v] >= 0) grow(past, v, taken[v]);
    }
}
