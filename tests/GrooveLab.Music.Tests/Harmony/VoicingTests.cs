using CsCheck;
using GrooveLab.Music.Harmony;
using Xunit;

namespace GrooveLab.Music.Tests.Harmony;

public class VoicingTests
{
    // Open strings, common practice: guitar E2 A2 D3 G3 B3 E4; Irish bouzouki G2 D3 A3 D4; banjo with its high drone string first.
    private static readonly int[] Guitar = [40, 45, 50, 55, 59, 64];
    private static readonly int[] Bouzouki = [43, 50, 57, 62];
    private static readonly int[] Banjo = [67, 50, 55, 59, 62];

    private static readonly string[] Chords =
        ["C", "Am", "G7", "F#m7b5", "Bbmaj7", "D7sus4", "E7#9", "Caug", "C5", "Dm9", "G13", "C6/9", "Abdim7", "F7(b9,#11)", "Gsus2", "D/F#", "C11"];

    private static readonly Gen<int[]> GenVoicing = Gen.Int[36, 84].Array[1, 5];

    [Fact]
    public void Tones_Lookup_GivesTheFifthAsTheChordSpellsIt()
    {
        Assert.Equal("Gb", ChordSymbol.Parse("Cm7b5").Tones.Fifth!.Value.Name.ToString());
        Assert.Equal("G#", ChordSymbol.Parse("C7#5").Tones.Fifth!.Value.Name.ToString());
        Assert.Null(ChordSymbol.Parse("C7no5").Tones.Fifth);
        Assert.Null(ChordSymbol.Parse("Csus4").Tones.Third);
        Assert.Equal(59, ChordSymbol.Parse("G").Tones.Nearest(60));
    }

    [Theory]
    [InlineData("C", "C", 64, PitchFit.ChordTone)]
    [InlineData("C", "C", 62, PitchFit.ScaleTone)]
    [InlineData("C", "C", 65, PitchFit.Clash)]
    [InlineData("C", "C", 70, PitchFit.Outside)]
    [InlineData("C", "F", 70, PitchFit.ScaleTone)]
    [InlineData("C/D", "C", 62, PitchFit.ChordTone)]
    [InlineData("N.C.", "C", 61, PitchFit.Outside)]
    [InlineData("N.C.", "C", 65, PitchFit.ScaleTone)]
    [InlineData("Cmaj7", "C", 71, PitchFit.ChordTone)]
    [InlineData("C", "C", 71, PitchFit.Clash)]
    public void Fit_PitchInKey_IsJudged(string chord, string key, int midi, PitchFit expected) =>
        Assert.Equal(expected, ChordSymbol.Parse(chord).Tones.Fit(midi, Key.Parse(key)));

    [Fact]
    public void Between_AnyVoicings_EqualsBruteForce() => Gen.Select(GenVoicing, GenVoicing).Sample((from, to) =>
    {
        var all = Assignments(from, to).ToArray();
        var total = all.Min(movement => movement.Total);
        Assert.Equal(new Movement(total, all.Where(movement => movement.Total == total).Min(movement => movement.Largest)), VoiceLeading.Between(from, to));
    });

    [Fact]
    public void NearestOrClosest_AnyCandidates_EqualsBruteForce() =>
        Gen.Select(GenVoicing, GenVoicing.Array[1, 12], Gen.Int[2, 20]).Sample((previous, candidates, leap) =>
        {
            var best = candidates
                .Select((candidate, index) => (index, within: Assignments(previous, candidate).Where(movement => movement.Largest <= leap).ToArray()))
                .Where(candidate => candidate.within.Length > 0)
                .Select(candidate => (candidate.index, least: candidate.within.MinBy(movement => (movement.Total, movement.Largest))))
                .OrderBy(candidate => candidate.least.Total).ThenBy(candidate => candidate.least.Largest).ThenBy(candidate => candidate.index)
                .Select(candidate => candidates[candidate.index])
                .FirstOrDefault();
            Assert.Same(
                best ?? candidates.MinBy(c => (VoiceLeading.Between(previous, c).Largest, VoiceLeading.Between(previous, c).Total)),
                VoiceLeading.NearestOrClosest(previous, candidates, candidate => candidate, leap));
        });

    [Fact]
    public void NearestOrClosest_ChordsInCommonPractice_KeepCommonTones()
    {
        // C to F with the common tone C held: the textbook connection (common practice).
        int[] c = [60, 64, 67];
        var f = Voicings.Enumerate(ChordSymbol.Parse("F").Tones, 3, 55, 79);
        Assert.Equal([60, 65, 69], VoiceLeading.NearestOrClosest(c, f, voicing => voicing)!);
    }

    [Fact]
    public void Enumerate_SmallRange_EqualsBruteForce()
    {
        foreach (var chord in Chords.Select(ChordSymbol.Parse))
        {
            foreach (var rootOptional in new[] { false, true })
            {
                for (var voices = 2; voices <= 4; voices++)
                {
                    var expected = Subsets(Enumerable.Range(40, 27).Where(chord.Tones.Contains).ToArray(), voices)
                        .Where(notes => IsVoicing(chord, notes, rootOptional)
                            && notes.Zip(notes.Skip(1)).All(pair => pair.Second - pair.First <= 12 && (pair.First >= 48 || pair.Second - pair.First >= 5)))
                        .ToArray();
                    Assert.Equal(expected, Voicings.Enumerate(chord.Tones, voices, 40, 66, rootOptional));
                }
            }
        }
    }

    [Fact]
    public void Enumerate_Spacing_PartsCloseFromOpen()
    {
        var tones = ChordSymbol.Parse("Am7").Tones;
        var close = Voicings.Enumerate(tones, 4, 48, 76, spacing: VoicingSpacing.Close);
        var open = Voicings.Enumerate(tones, 4, 48, 76, spacing: VoicingSpacing.Open);
        var all = Voicings.Enumerate(tones, 4, 48, 76);
        Assert.NotEmpty(close);
        Assert.NotEmpty(open);
        Assert.All(close, notes => Assert.True(notes[^1] - notes[0] <= 12));
        Assert.All(open, notes => Assert.True(notes[^1] - notes[0] > 12));
        Assert.Equal(all.Count, close.Count + open.Count);
        Assert.Empty(Voicings.Enumerate(ChordSymbol.NoChord.Tones, 3, 48, 76));
        Assert.Equal(3, Voicings.Enumerate(tones, 4, 48, 76, limit: 3).Count);
    }

    [Fact]
    public void Enumerate_StringsOfEveryInstrument_EqualsBruteForce()
    {
        foreach (var tuning in new[] { Guitar, Bouzouki, Banjo })
        {
            foreach (var chord in Chords.Select(ChordSymbol.Parse))
            {
                var found = StringVoicings.Enumerate(tuning, 5, chord.Tones, maxStretch: 4, minVoices: 3, maxVoices: 4, dropRoot: true);
                var expected = BruteFingerings(tuning, 5, chord, 4, 3, 4);
                Assert.Equal(expected.Order(StringComparer.Ordinal), found.Select(f => f.ToString()).Order(StringComparer.Ordinal));
                Assert.Equal(found, StringVoicings.Enumerate(tuning, 5, chord.Tones, maxStretch: 4, minVoices: 3, maxVoices: 4, dropRoot: true));
            }
        }
    }

    [Theory]
    // Well-known open-position guitar chords (common practice); the low-interval rule is off, since G has a low third.
    [InlineData("C", "2:3 3:2 4:0 5:1 6:0")]
    [InlineData("Am", "2:0 3:2 4:2 5:1 6:0")]
    [InlineData("E", "1:0 2:2 3:2 4:1 5:0 6:0")]
    [InlineData("G", "1:3 2:2 3:0 4:0 5:0 6:3")]
    [InlineData("D", "3:0 4:2 5:3 6:2")]
    [InlineData("F", "1:1 2:3 3:3 4:2 5:1 6:1")]
    [InlineData("Dm7", "3:0 4:2 5:1 6:1")]
    public void Enumerate_Guitar_HoldsTheChordsThatPlayersKnow(string chord, string fingering) =>
        Assert.Contains(
            fingering,
            StringVoicings.Enumerate(Guitar, 5, ChordSymbol.Parse(chord).Tones, maxVoices: 6, lowIntervalLimit: 0).Select(found => found.ToString()));

    [Theory]
    [InlineData("1:1 2:3 3:3 4:2 5:1 6:1", true)]
    [InlineData("1:1 2:3 3:3 4:2 5:0 6:1", false)]
    [InlineData("1:1 2:2 3:3 4:4 5:5", false)]
    [InlineData("1:3 2:2 3:0 4:0 5:0 6:3", true)]
    public void IsHoldable_Fingering_CountsFourFingersAndOneAcross(string fingering, bool holdable)
    {
        var notes = fingering.Split(' ').Select(note => note.Split(':')).Select(note => new StringNote(int.Parse(note[0]) - 1, int.Parse(note[1]), 0)).ToArray();
        Assert.Equal(holdable, StringVoicings.IsHoldable(notes));
    }

    [Fact]
    public void Enumerate_AnyTuning_KeepsEveryRule() =>
        Gen.Select(Gen.Int[36, 70].Array[3, 6], Gen.Int[0, Chords.Length - 1].Select(index => Chords[index]), Gen.Int[1, 5]).Sample(
            (tuning, written, stretch) =>
            {
                var chord = ChordSymbol.Parse(written);
                foreach (var fingering in StringVoicings.Enumerate(tuning, 9, chord.Tones, stretch, 2, 4))
                {
                    var notes = fingering.Notes;
                    Assert.InRange(notes.Length, 2, 4);
                    Assert.True(fingering.Stretch <= stretch);
                    Assert.All(notes, note => Assert.Equal(note.Pitch, tuning[note.String] + note.Fret));
                    Assert.True(notes[^1].String - notes[0].String + 1 - notes.Length is 0 or 1);
                    var pitches = fingering.Pitches.Order().ToArray();
                    Assert.All(pitches.Zip(pitches.Skip(1)), pair => Assert.True(pair.First >= Voicings.LowIntervalLimit || pair.Second - pair.First >= 5));
                    Assert.Equal(pitches.Length, pitches.Distinct().Count());
                    Assert.True(IsVoicing(chord, pitches, rootOptional: false));
                }
            },
            iter: 200);

    // The required tones of a voicing, computed again for the test: needs in order, one per voice.
    private static bool IsVoicing(ChordSymbol chord, IReadOnlyList<int> notes, bool rootOptional)
    {
        var tones = chord.Tones;
        var bare = tones.Third is null && tones.Find(ChordDegree.Second) is null && tones.Find(ChordDegree.Fourth) is null;
        var needs = new List<int>();
        if (!rootOptional || bare)
            needs.Add(tones[0].PitchClass);
        ChordDegree[] quality = [ChordDegree.Third, ChordDegree.Second, ChordDegree.Fourth, ChordDegree.Seventh, ChordDegree.Sixth];
        needs.AddRange(quality.SelectMany(degree => tones.Where(tone => tone.Degree == degree)).Select(tone => tone.PitchClass));
        needs.AddRange(tones.Where(tone => tone.Degree == ChordDegree.Fifth && (bare || tone.Alteration != 0)).Select(tone => tone.PitchClass));
        needs.AddRange(tones.Where(tone => tone.Degree > ChordDegree.Seventh && (tone.Alteration != 0 || tone == tones[^1])).Reverse().Select(tone => tone.PitchClass));
        var present = notes.Select(note => note % 12).ToArray();
        var doubled = present.Where((pc, i) => Array.IndexOf(present, pc) != i);
        return needs.Take(notes.Count).All(present.Contains)
            && present.All(pc => tones.Contains(pc))
            && doubled.All(pc => tones.Any(tone => tone.PitchClass == pc && (tone.Degree is ChordDegree.Root or ChordDegree.Third
                || (tone.Degree == ChordDegree.Fifth && tone.Alteration == 0))));
    }

    private static IEnumerable<int[]> Subsets(int[] pitches, int count, int start = 0)
    {
        if (count == 0)
            return [[]];
        return Enumerable.Range(start, pitches.Length - start)
            .SelectMany(i => Subsets(pitches, count - 1, i + 1).Select(rest => (int[])[pitches[i], .. rest]));
    }

    // All ways to lead each note of the larger side to one of the smaller, using all of the smaller.
    private static IEnumerable<Movement> Assignments(int[] from, int[] to)
    {
        var (many, few) = from.Length >= to.Length ? (from, to) : (to, from);
        var ways = (int)Math.Pow(few.Length, many.Length);
        for (var way = 0; way < ways; way++)
        {
            var rest = way;
            var used = 0;
            var total = 0;
            var largest = 0;
            foreach (var note in many)
            {
                var target = rest % few.Length;
                rest /= few.Length;
                used |= 1 << target;
                total += Math.Abs(note - few[target]);
                largest = Math.Max(largest, Math.Abs(note - few[target]));
            }

            if (used == (1 << few.Length) - 1)
                yield return new Movement(total, largest);
        }
    }

    private static IEnumerable<string> BruteFingerings(int[] tuning, int frets, ChordSymbol chord, int stretch, int minVoices, int maxVoices)
    {
        // A counter with one digit per string: 0 is muted, n is fret n - 1.
        var ways = (long)Math.Pow(frets + 2, tuning.Length);
        var notes = new List<StringNote>();
        for (long way = 0; way < ways; way++)
        {
            notes.Clear();
            var rest = way;
            for (var s = 0; s < tuning.Length; s++)
            {
                var digit = (int)(rest % (frets + 2));
                rest /= frets + 2;
                if (digit > 0)
                    notes.Add(new StringNote(s, digit - 1, tuning[s] + digit - 1));
            }

            if (notes.Count < minVoices || notes.Count > maxVoices || notes[^1].String - notes[0].String + 1 - notes.Count > 1)
                continue;
            if (!notes.TrueForAll(note => chord.Tones.Contains(note.Pitch)))
                continue;
            var stopped = notes.Where(note => note.Fret > 0).Select(note => note.Fret).ToArray();
            if (stopped.Length > 0 && stopped.Max() - stopped.Min() + 1 > stretch)
                continue;
            var pitches = notes.Select(note => note.Pitch).Order().ToArray();
            var closeBelow = pitches.Zip(pitches.Skip(1)).Any(pair => pair.First == pair.Second || (pair.First < 48 && pair.Second - pair.First < 5));
            if (!closeBelow && IsVoicing(chord, pitches, rootOptional: true))
                yield return string.Join(' ', notes.Select(note => $"{note.String + 1}:{note.Fret}"));
        }
    }
}
