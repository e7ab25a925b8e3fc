using GrooveLab.Music.Analysis;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.FromScore;

/// <summary>Infers chord symbols from the notes of a score without any: from the bass, the pitch classes weighted by length and place, and
/// the key. The most likely row of chords is found exactly (Viterbi 1967), with a cost for each change, less at a bar line than inside
/// the bar. The weights are common practice, no source. A tune without any other line has the plain chords of its key (<see cref="TuneHarmony"/>).</summary>
public static class ChordInference
{
    // Shares of a bar that other tones and gaps cost, as multiples of what a chord tone gains.
    private const double ForeignTone = 1.0;
    private const double ForeignToneOfKey = 0.6;
    private const double BassIsRoot = 0.5;
    private const double BassIsForeign = -0.4;
    private const double MissingTone = 0.12;
    private const double TonePart = 0.06;
    private const double ChromaticTone = 0.08;

    // What a change must gain, in bars of full agreement.
    private const double ChangeAtBarLine = 0.05;
    private const double ChangeInsideBar = 0.22;

    // A note that starts with its group weighs more by this share.
    private const double StartOfGroup = 0.5;

    private const int MostAlternatives = 3;
    private const double LeastConfidence = 0.05;
    private const double Sharpness = 10;

    // A chord that a tune by itself does not have is never an alternative either.
    private const double NoChordOfTune = -100;

    private static readonly string[] Suffixes = ["", "m", "7", "m7", "maj7", "dim", "m7b5", "sus4", "7sus4", "6", "m6", "aug", "dim7"];
    private static readonly int States = 12 * Suffixes.Length;
    private static readonly int[] Masks = [.. Suffixes.Select(suffix => Mask(ChordSymbol.Parse("C" + suffix)))];

    // The less usual a kind, the more it must fit.
    private static readonly double[] Rarity = [0, 0, 0.02, 0.02, 0.03, 0.06, 0.06, 0.06, 0.08, 0.1, 0.1, 0.12, 0.12];

    /// <summary>The score with inferred chords, marked as such and with alternatives; unchanged if it has chords.</summary>
    public static WrittenMusic AddTo(WrittenMusic music)
    {
        if (music.Measures.Any(measure => measure.Chords.Any()))
        {
            return music;
        }

        var slots = Slots(music);
        Weigh(music, slots);
        if (!slots.Exists(slot => slot.Sum > 0))
        {
            return music;
        }

        var keys = Keys(music, slots);
        return TuneHarmony.IsAlone(music)
            ? Marked(music, slots, keys, PathOfTune(music, slots, keys), hasBass: false)
            : Marked(music, slots, keys, Best(slots, keys), hasBass: true);
    }

    private static WrittenMusic Marked(WrittenMusic music, List<Slot> slots, Key[] keys, int[] path, bool hasBass)
    {
        List<ChordMark>[] marks = [.. music.Measures.Select(_ => new List<ChordMark>())];
        for (int from = slots.FindIndex(slot => slot.Sum > 0), to; from < slots.Count; from = to)
        {
            for (to = from + 1; to < slots.Count && path[to] == path[from]; to++)
            {
            }

            marks[slots[from].Measure].Add(MarkOf(slots, from, to, path[from], keys, hasBass));
        }

        return new WrittenMusic([.. music.Measures.Select((measure, i) => measure with { Marks = [.. measure.Marks.Concat(marks[i]).OrderBy(mark => mark.At)] })], music.Parts)
        {
            Headings = music.Headings,
            Annotations = music.Annotations,
            Origin = music.Origin,
        };
    }

    private static int Mask(ChordSymbol chord)
    {
        var mask = 0;
        foreach (var tone in chord.Tones)
        {
            mask |= 1 << tone.Name.PitchClass;
        }

        return mask;
    }

    private static int MaskOf(int state)
    {
        var (root, kind) = (state / Suffixes.Length, state % Suffixes.Length);
        return ((Masks[kind] << root) | (Masks[kind] >> (12 - root))) & 0xFFF;
    }

    // One slot for each group of each measure.
    private static List<Slot> Slots(WrittenMusic music)
    {
        var slots = new List<Slot>();
        for (var m = 0; m < music.Measures.Count; m++)
        {
            var length = music.LengthOf(m) ?? music.Parts.SelectMany(part => part.Measures[m].Voices).Select(voice => voice.Length).DefaultIfEmpty(Span.Zero).Max();
            var meter = music.MeterAt(m)?.ToBarMeter();
            var starts = meter is null || meter.Length != length ? [Span.Zero] : meter.Grouping.GroupStarts().Select(start => meter.Unit * start).ToList();
            for (var i = 0; i < starts.Count; i++)
            {
                var end = i + 1 < starts.Count ? starts[i + 1] : length;
                slots.Add(new Slot(m, starts[i], end, length > Span.Zero ? ((end - starts[i]) / length).ToDouble() : 0));
            }
        }

        return slots;
    }

    private static void Weigh(WrittenMusic music, List<Slot> slots)
    {
        var byMeasure = slots.ToLookup(slot => slot.Measure);
        foreach (var part in music.Parts)
        {
            var transposition = new PartTransposition(part);
            for (var m = 0; m < music.Measures.Count; m++)
            {
                var inside = byMeasure[m].ToList();
                foreach (var voice in part.Measures[m].Voices)
                {
                    var at = Span.Zero;
                    foreach (var item in voice.Events)
                    {
                        if (item is NotesEvent { Grace: null, IsCue: false } notes)
                        {
                            var up = transposition.At(m, at)?.Semitones ?? 0;
                            foreach (var note in notes.Notes)
                            {
                                if (note.Pitch is { } pitch)
                                {
                                    Add(inside, at, at + item.Length, (int)pitch.Sound.Round() + up);
                                }
                            }
                        }

                        at += item.Length;
                    }
                }
            }
        }

        foreach (var slot in slots)
        {
            slot.FindBass();
        }
    }

    private static void Add(List<Slot> slots, Span from, Span to, int midi)
    {
        foreach (var slot in slots)
        {
            var start = Span.Max(from, slot.Start);
            var end = Span.Min(to, slot.End);
            if (start < end)
            {
                var weight = (end - start).Wholes.ToDouble() * (start == slot.Start ? 1 + StartOfGroup : 1);
                slot.Weights[PitchName.Modulo(midi, 12)] += weight;
                slot.Sum += weight;
                slot.ByPitch[midi] = slot.ByPitch.GetValueOrDefault(midi) + weight;
            }
        }
    }

    private static Key[] Keys(WrittenMusic music, List<Slot> slots)
    {
        var keys = new Key[music.Measures.Count];
        Key? inferred = null;
        WrittenKey? written = null;
        for (var m = 0; m < keys.Length; m++)
        {
            written = music.Measures[m].Key ?? written;
            var fromSignature = written?.ToKey() ?? (written?.Fifths is >= -7 and <= 7 ? new WrittenKey(written.Fifths.Value, "major").ToKey() : null);
            keys[m] = fromSignature ?? (inferred ??= KeySearch.ByTimes([.. Enumerable.Range(0, 12).Select(pc => slots.Sum(slot => slot.Weights[pc]))]));
        }

        return keys;
    }

    private static double Score(Slot slot, int root, int kind, Key key)
    {
        var mask = MaskOf((root * Suffixes.Length) + kind);
        var fit = 0.0;
        var missing = 0.0;
        for (var pc = 0; pc < 12; pc++)
        {
            var share = slot.Weights[pc] / slot.Sum;
            var isTone = (mask >> pc & 1) != 0;
            fit += share * (isTone ? 1 : key.Contains(pc) ? -ForeignToneOfKey : -ForeignTone);
            missing += isTone && share < TonePart ? MissingTone * (1 - (share / TonePart)) : 0;
            missing += isTone && !key.Contains(pc) ? ChromaticTone : 0;
        }

        var bass = slot.Bass == root ? BassIsRoot : (mask >> slot.Bass & 1) != 0 ? 0 : BassIsForeign;
        return slot.Share * (fit + bass - missing - Rarity[kind]);
    }

    // Of all states; 0 if nothing sounds. They are not kept: a long score has tens of thousands of slots.
    private static void Score(Slot slot, Key key, double[] scores)
    {
        for (var state = 0; state < States; state++)
        {
            scores[state] = slot.Sum > 0 ? Score(slot, state / Suffixes.Length, state % Suffixes.Length, key) : 0;
        }
    }

    private static int[] Best(List<Slot> slots, Key[] keys)
    {
        double[] before = new double[States], now = new double[States], scores = new double[States];
        var from = new byte[slots.Count][];
        for (var i = 0; i < slots.Count; i++)
        {
            Score(slots[i], keys[slots[i].Measure], scores);
            var best = 0;
            for (var state = 1; state < States; state++)
            {
                best = before[state] > before[best] ? state : best;
            }

            // Nothing sounds: the chord stays.
            var cost = i == 0 ? 0 : slots[i].Start == Span.Zero ? ChangeAtBarLine : ChangeInsideBar;
            from[i] = new byte[States];
            for (var state = 0; state < States; state++)
            {
                var isChanged = i > 0 && before[best] - cost > before[state];
                from[i][state] = (byte)(isChanged ? best : state);
                now[state] = scores[state] + (isChanged ? before[best] - cost : before[state]);
            }

            (before, now) = (now, before);
        }

        var path = new int[slots.Count];
        path[^1] = Array.IndexOf(before, before.Max());
        for (var i = slots.Count - 1; i > 0; i--)
        {
            path[i - 1] = from[i][path[i]];
        }

        return path;
    }

    // The chords of a tune by itself: as above, but what a change costs depends on both chords.
    private static int[] PathOfTune(WrittenMusic music, List<Slot> slots, Key[] keys)
    {
        var harmonies = keys.Distinct().ToDictionary(key => key, key => new TuneHarmony(key));
        var counted = music.Measures.Count > 0 && music.Measures[0].IsUncounted ? 1 : 0;
        var (first, last) = (slots.FindIndex(slot => slot.Sum > 0 && slot.Measure >= counted), slots.FindLastIndex(slot => slot.Sum > 0));
        var from = new int[slots.Count][];
        double[] before = [];
        for (var i = 0; i < slots.Count; i++)
        {
            var slot = slots[i];
            var harmony = harmonies[keys[slot.Measure]];
            var ends = i + 1 == slots.Count || slots[i + 1].Measure != slot.Measure;
            slot.Scores = new double[States];
            Array.Fill(slot.Scores, NoChordOfTune);
            var now = new double[harmony.Chords.Count];
            from[i] = new int[now.Length];
            for (var c = 0; c < now.Length; c++)
            {
                var chord = harmony.Chords[c];
                var score = (slot.Sum > 0 ? slot.Share * harmony.Score(chord, slot.Weights, slot.Sum) : 0)
                    + harmony.Place(chord, i == first, i == last, ends ? slot.Measure - counted : null);
                slot.Scores[StateOf(chord)] = score;
                now[c] = score;
                if (i > 0)
                {
                    var chords = harmonies[keys[slots[i - 1].Measure]].Chords;
                    var gains = chords.Select((other, n) => before[n] + harmony.Change(other, chord, slot.Start == Span.Zero)).ToList();
                    from[i][c] = gains.IndexOf(gains.Max());
                    now[c] += gains[from[i][c]];
                }
            }

            before = now;
        }

        var path = new int[slots.Count];
        var at = Array.IndexOf(before, before.Max());
        for (var i = slots.Count - 1; i >= 0; i--)
        {
            path[i] = StateOf(harmonies[keys[slots[i].Measure]].Chords[at]);
            at = from[i][at];
        }

        return path;
    }

    private static int StateOf(TuneChord chord) => (chord.Root * Suffixes.Length) + Array.IndexOf(Suffixes, chord.IsMinor ? "m" : chord.HasSeventh ? "7" : "");

    private static ChordMark MarkOf(List<Slot> slots, int from, int to, int state, Key[] keys, bool hasBass)
    {
        var key = keys[slots[from].Measure];
        var stretch = slots.GetRange(from, to - from).Where(slot => slot.Sum > 0).ToList();
        var length = stretch.Sum(slot => slot.Share);
        double[] scores = new double[States], own = new double[States];
        foreach (var slot in stretch)
        {
            if (slot.Scores is null)
            {
                Score(slot, keys[slot.Measure], own);
            }

            for (var one = 0; one < States; one++)
            {
                scores[one] += (slot.Scores ?? own)[one];
            }
        }

        for (var one = 0; one < States; one++)
        {
            scores[one] /= length;
        }

        var most = scores.Max();
        var total = scores.Sum(score => Math.Exp(Sharpness * (score - most)));
        var alternatives = Enumerable.Range(0, scores.Length).Where(one => one != state)
            .Select(one => (State: one, Confidence: Math.Exp(Sharpness * (scores[one] - most)) / total))
            .Where(one => one.Confidence >= LeastConfidence).OrderByDescending(one => one.Confidence).ThenBy(one => one.State).Take(MostAlternatives);
        return new ChordMark(slots[from].Start, [Chord(state, key, stretch, hasBass)])
        {
            Provenance = Provenance.Inferred,
            Alternatives = [.. alternatives.Select(one => new ChordAlternative(Chord(one.State, key, stretch, hasBass), one.Confidence))],
        };
    }

    // A bass other than the root is written where it sounds through most of the chord.
    private static WrittenChord Chord(int state, Key key, List<Slot> stretch, bool hasBass)
    {
        var root = state / Suffixes.Length;
        var text = key.Spell(root).Simplified() + Suffixes[state % Suffixes.Length];
        var bass = stretch.GroupBy(slot => slot.Bass).OrderByDescending(group => group.Sum(slot => slot.Share)).ThenBy(group => group.Key).First();
        var isHeld = bass.Sum(slot => slot.Share) > 0.6 * stretch.Sum(slot => slot.Share);
        if (hasBass && bass.Key != root && isHeld && (MaskOf(state) >> bass.Key & 1) != 0)
        {
            // Spelled as the chord spells it: G# below A, not Ab.
            text += "/" + ChordSymbol.Parse(text).Tones.First(tone => tone.Name.PitchClass == bass.Key).Name.Simplified();
        }

        return new WrittenChord { Text = text, Symbol = ChordSymbol.Parse(text) };
    }

    /// <summary>What sounds in a group of a measure.</summary>
    private sealed class Slot(int measure, Span start, Span end, double share)
    {
        public int Measure => measure;

        public Span Start => start;

        public Span End => end;

        // Its share of the bar.
        public double Share => share;

        public double[] Weights { get; } = new double[12];

        public Dictionary<int, double> ByPitch { get; } = [];

        public double Sum { get; set; }

        // Of all states, for a tune by itself; null for those that are found again where they are needed.
        public double[]? Scores { get; set; }

        public int Bass { get; private set; }

        // The lowest pitch that sounds for more than a passing note, otherwise the lowest.
        public void FindBass()
        {
            if (ByPitch.Count == 0)
            {
                return;
            }

            var low = ByPitch.Keys.Min();
            var near = ByPitch.Where(pair => pair.Key < low + 12).OrderBy(pair => pair.Key).ToList();
            var longest = near.Where(pair => pair.Key < low + 8).Max(pair => pair.Value);
            Bass = PitchName.Modulo(near.First(pair => pair.Value * 2 >= longest).Key, 12);
        }
    }
}
