using System.Text;
using CsCheck;
using GrooveLab.Music.Harmony;
using Xunit;

namespace GrooveLab.Music.Tests.Harmony;

public class ChordSymbolTests
{
    private static readonly string[] Qualities =
    [
        "", "M", "maj", "Δ", "m", "-", "5", "6", "m6", "6/9", "m69", "7", "maj7", "m7", "m(maj7)", "-Δ7", "ø", "ø9", "dim", "°7", "dim9", "dim(maj7)",
        "+", "aug7", "sus2", "sus4", "7sus4", "9sus", "13sus", "m9", "m11", "m13", "9", "11", "13", "maj9", "maj11", "maj13", "7alt", "+maj7", "sus24", "7M",
        "dim11", "maj7sus4", "dim7sus4", "69sus4",
    ];

    private static readonly string[] Changes =
        ["b5", "#5", "b9", "#9", "#11", "b13", "add9", "add11", "add13", "add#11", "addb9", "addb13", "add6", "no3", "no5", "9", "13", "11"];

    private static readonly Gen<PitchName> GenName =
        Gen.Select(Gen.Int[0, 6], Gen.Int[-1, 1], (letter, accidental) => new PitchName((NoteLetter)letter, accidental));

    private static readonly Gen<ChordSymbol> GenChord =
        from root in GenName
        from quality in OneOf(Qualities)
        from changes in OneOf(Changes).Array[0, 4]
        from bass in Gen.Frequency((3, Gen.Const("")), (1, GenName.Select(name => "/" + name)))
        select ChordSymbol.Parse(root + quality + (changes.Length == 0 ? "" : $"({string.Join(',', changes)})") + bass);

    private static readonly Gen<Interval> GenInterval = OneOf(
        Interval.Unison, Interval.MinorSecond, Interval.MajorSecond, Interval.MinorThird, Interval.MajorThird, Interval.PerfectFourth,
        Interval.AugmentedFourth, Interval.DiminishedFifth, Interval.PerfectFifth, Interval.MinorSixth, Interval.MajorSixth,
        Interval.MinorSeventh, Interval.MajorSeventh, Interval.Octave, -Interval.MinorSecond, -Interval.MajorThird, -Interval.PerfectFourth);

    // Two notations of one chord. Common practice, no source.
    [Theory]
    [InlineData("C", "CM", "Cmaj", "CΔ", "C major")]
    [InlineData("Am", "A-", "Amin", "Ami", "AMin")]
    [InlineData("Cmaj7", "CM7", "CΔ7", "Cma7", "C7M")]
    [InlineData("Cm(maj7)", "CmMaj7", "Cm(M7)", "C-Δ7", "Cm+7")]
    [InlineData("Cm7b5", "Cø", "Cø7", "C-7(b5)", "Cm7-5")]
    [InlineData("Cdim7", "C°7", "Co7", "Cº7", "C dim7")]
    [InlineData("Caug", "C+", "C(#5)", "C+5", "C(+5)")]
    [InlineData("C7#5", "C+7", "Caug7", "C7+", "C7(+5)")]
    [InlineData("C7sus4", "C7sus", "Csus7", "C7(sus4)", "Csus4(7)")]
    [InlineData("C9sus4", "C9sus", "Csus9", "C11sus", "C7sus4(9)")]
    [InlineData("C6/9", "C69", "C6(9)", "C6add9", "C(6,9)")]
    [InlineData("Cadd9", "Cadd2", "C2", "C(add9)", "C(9)")]
    [InlineData("C7(b9,#11)", "C7b9#11", "C7#11b9", "C7(#11)(b9)", "C7 b9 +11")]
    [InlineData("C7#9", "C7+9", "C7♯9", "Cdom7#9", "C7/#9")]
    [InlineData("Cmaj7#11", "Cmaj#11", "CΔ#11", "CM7(+11)", "CΔ7♯11")]
    [InlineData("B♭m", "Bbm", "B♭-", "Bb min", "Bbm")]
    [InlineData("C(b5)", "C-5", "C(-5)", "CM(b5)", "Cmaj(♭5)")]
    [InlineData("Cm9", "C-9", "Cmin9", "C-7(9)", "Cm7/9")]
    [InlineData("C5", "Cno3", "C(no3)", "Comit3", "C5")]
    public void Parse_WaysOfWritingOneChord_AreEqual(string first, params string[] others)
    {
        foreach (var other in others)
            Assert.Equal(ChordSymbol.Parse(first), ChordSymbol.Parse(other));
    }

    [Theory]
    [InlineData("C6/9", "C E G A D", "C")]
    [InlineData("C6/9/E", "C E G A D", "E")]
    [InlineData("Bb5", "Bb F", "Bb")]
    [InlineData("Cb5", "Cb Gb", "Cb")]
    [InlineData("Bbb7", "Bbb Db Fb Abb", "Bbb")]
    [InlineData("Cm7-5", "C Eb Gb Bb", "C")]
    [InlineData("C-7", "C Eb G Bb", "C")]
    [InlineData("Eb/Bb", "Eb G Bb", "Bb")]
    [InlineData("G7/B", "G B D F", "B")]
    [InlineData("D/F♯", "D F# A", "F#")]
    [InlineData("F/G", "F A C", "G")]
    [InlineData("𝄫", null, null)]
    [InlineData("B𝄫", "Bbb Db Fb", "Bbb")]
    [InlineData("Fx", "F## A## C##", "F##")]
    [InlineData("Cadd4", "C E G F", "C")]
    [InlineData("Cmadd9", "C Eb G D", "C")]
    [InlineData("CMadd9", "C E G D", "C")]
    [InlineData("Cmaj11", "C G B D F", "C")]
    [InlineData("C9#11", "C E G Bb D F#", "C")]
    [InlineData("C13", "C E G Bb D A", "C")]
    [InlineData("Cdim9", "C Eb Gb Bbb D", "C")]
    [InlineData("C7no5", "C E Bb", "C")]
    [InlineData("Cm(b6)", "C Eb G Ab", "C")]
    public void Parse_KnownAmbiguity_IsReadAsMusiciansDo(string written, string? tones, string? bass)
    {
        var read = ChordSymbol.TryParse(written, out var chord, out _);
        Assert.Equal(tones is not null, read);
        Assert.Equal(tones, chord?.Tones.ToString());
        Assert.Equal(bass, chord?.Bass.ToString());
    }

    [Theory]
    [InlineData("Am7", "Am7")]
    [InlineData("Cø7", "Cm7b5")]
    [InlineData("C7(#11,b9)", "C7(b9,#11)")]
    [InlineData("C+", "Caug")]
    [InlineData("Csus", "Csus4")]
    [InlineData("C-Δ7", "Cm(maj7)")]
    [InlineData("C7alt", "C7(#5,#9)")]
    [InlineData("Cadd2", "Cadd9")]
    [InlineData("C69/E", "C6/9/E")]
    [InlineData("C/C", "C")]
    [InlineData("B♭°7", "Bbdim7")]
    [InlineData("nc", "N.C.")]
    public void ToString_WrittenChord_IsCanonical(string written, string canonical) =>
        Assert.Equal(canonical, ChordSymbol.Parse(written).ToString());

    [Theory]
    [InlineData("Hm7", "A to G")]
    [InlineData("am", "capital")]
    [InlineData("", "missing")]
    [InlineData(null, "missing")]
    [InlineData("C4", "sus4")]
    [InlineData("C/x", "bass note")]
    [InlineData("C/b", "bass note")]
    [InlineData("C7(b9", "bracket")]
    [InlineData("C7b9)", "bracket")]
    [InlineData("Cm7alt", "alt")]
    [InlineData("C7b11", "b5, #5, b9, #9, #11 and b13")]
    [InlineData("Cmdim", "contradicts")]
    [InlineData("C+11", "ambiguous")]
    [InlineData("Cadd7", "after add")]
    [InlineData("Cno7", "3 or 5")]
    [InlineData("Czzz", "accepted are")]
    [InlineData("C79", "number 79")]
    [InlineData("C99999999999999999999", "number")]
    [InlineData("Cdom", "dom")]
    [InlineData("%", "A to G")]
    public void TryParse_NoChord_SaysWhatIsWrongAndWhatIsAccepted(string? text, string expected)
    {
        Assert.False(ChordSymbol.TryParse(text, out var chord, out var error));
        Assert.Null(chord);
        Assert.Contains(expected, error, StringComparison.Ordinal);
        if (!string.IsNullOrEmpty(text) && text.Length < 24)
            Assert.StartsWith($"'{text}'", error, StringComparison.Ordinal);
        Assert.DoesNotContain('\n', error!);
    }

    [Theory]
    [InlineData("N.C.")]
    [InlineData("NC")]
    [InlineData("N.C")]
    public void Parse_NoChord_HasNoTones(string text)
    {
        var chord = ChordSymbol.Parse(text);
        Assert.True(chord.IsNoChord);
        Assert.Empty(chord.Tones);
        Assert.Equal(ChordSymbol.NoChord, chord);
        Assert.Same(chord, chord.Transpose(Interval.MajorThird));
        Assert.Throws<InvalidOperationException>(() => chord.Root);
    }

    [Fact]
    public void TryParse_RandomStrings_NeverThrows()
    {
        // Seeded: half are characters used in chords, half any UTF-16 unit (also broken surrogates).
        const string signs = "ABCDEFGHabcdm#b♯♭𝄪𝄫Δ°ø()+-/,. 0123456789sualtdimomitnoMajXx^";
        var random = new Random(20_000);
        var readable = 0;
        for (var i = 0; i < 20_000; i++)
        {
            var text = new StringBuilder();
            var length = random.Next(0, 14);
            if (i % 3 == 0)
                text.Append((char)('A' + random.Next(7))).Append(Qualities[random.Next(Qualities.Length)]);
            for (var k = 0; k < length; k++)
                text.Append(i % 2 == 0 ? signs[random.Next(signs.Length)] : (char)random.Next(0x10000));
            var written = text.ToString();
            if (ChordSymbol.TryParse(written, out var chord, out var error))
            {
                readable++;
                Assert.Equal(chord, ChordSymbol.Parse(chord.ToString()));
                Assert.NotNull(chord.Transpose(Interval.MinorThird));
            }
            else
            {
                Assert.False(string.IsNullOrWhiteSpace(error));
            }

            _ = Key.TryParse(written, out _, out _);
            _ = Pitch.TryParse(written, out _);
            _ = Interval.TryParse(written, out _);
        }

        Assert.True(readable > 500, $"only {readable} of the strings were chords: the test would not see the parser's inside");
    }

    [Fact]
    public void ToString_AnyChord_ParsesBackToTheSameTones() => GenChord.Sample(
        chord =>
        {
            var canonical = chord.ToString();
            var back = ChordSymbol.Parse(canonical);
            Assert.Equal(chord, back);
            Assert.Equal(canonical, back.ToString());
            Assert.Equal(chord, ChordSymbol.Parse(chord.Text));
        },
        iter: 20_000);

    [Fact]
    public void Transpose_ThereAndBack_IsTheSameChord() => Gen.Select(GenChord, GenInterval).Sample(
        (chord, interval) =>
        {
            var moved = chord.Transpose(interval);
            Assert.Equal(moved, ChordSymbol.Parse(moved.Text));
            Assert.Equal(moved, ChordSymbol.Parse(moved.ToString()));
            var pitchClasses = chord.Tones.Select(tone => PitchClass(tone.PitchClass + interval.Semitones));
            Assert.Equal(pitchClasses, moved.Tones.Select(tone => tone.PitchClass));
            Assert.Equal(chord.Tones.Select(tone => (tone.Degree, tone.Alteration)), moved.Tones.Select(tone => (tone.Degree, tone.Alteration)));
            // Names with one accidental survive any simple interval without being respelled.
            if (Math.Abs(chord.Root.Transpose(interval).Accidental) <= 2 && Math.Abs(chord.Bass.Transpose(interval).Accidental) <= 2)
                Assert.Equal(chord, moved.Transpose(-interval));
        },
        iter: 5_000);

    [Theory]
    [InlineData("C7alt", "M2", "D7alt")]
    [InlineData("C-7", "m3", "Eb-7")]
    [InlineData("F#ø/A", "-M2", "Eø/G")]
    [InlineData("C♯♭5", "m2", "D(b5)")]
    [InlineData("Bb#5", "M2", "Caug")]
    [InlineData("Bb/D", "m3", "Db/F")]
    [InlineData("C6/9", "P5", "G6/9")]
    public void Transpose_WrittenChord_KeepsTheWayOfWriting(string written, string interval, string expected) =>
        Assert.Equal(expected, ChordSymbol.Parse(written).Transpose(Interval.Parse(interval)).Text);

    private static int PitchClass(int value) => ((value % 12) + 12) % 12;

    private static Gen<T> OneOf<T>(params T[] values) => Gen.Int[0, values.Length - 1].Select(index => values[index]);
}
