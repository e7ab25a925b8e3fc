using System.Diagnostics;
using System.Globalization;
using GrooveLab.Music.Harmony;
using GrooveLab.Testing;
using Xunit;

namespace GrooveLab.Music.Tests.Harmony;

/// <summary>Chord spellings and frequencies against the npm package tonal 6.4.0 (MIT), an independent library.</summary>
public class ChordSpellingTests
{
    // As musicians write it; as tonal 6.4.0 needs it; the notes from Chord.get(...).notes of tonal 6.4.0 under Node 20 (slash chords
    // begin with the bass).
    public static TheoryData<string, string, string> TonalTable => new()
    {
        { "Am7", "Am7", "A C E G" },
        { "D7sus4", "D7sus4", "D G A C" },
        { "F#m7b5", "F#m7b5", "F# A C E" },
        { "Bbmaj7", "Bbmaj7", "Bb D F A" },
        { "C/E", "C/E", "E G C" },
        { "Gadd9", "Gadd9", "G B D A" },
        { "Cdim7", "Cdim7", "C Eb Gb Bbb" },
        { "E7#9", "E7#9", "E G# B D F##" },
        { "Caug", "Caug", "C E G#" },
        { "C6", "C6", "C E G A" },
        { "Eb", "Eb", "Eb G Bb" },
        { "EbM", "EbM", "Eb G Bb" },
        { "Amin", "Am", "A C E" },
        { "A-", "A-", "A C E" },
        { "Bb5", "Bb5", "Bb F" },
        { "Dm6", "Dm6", "D F A B" },
        { "G6/9", "G6/9", "G B D E A" },
        { "G69", "G69", "G B D E A" },
        { "Em6/9", "Em69", "E G B C# F#" },
        { "AbMaj7", "AbMaj7", "Ab C Eb G" },
        { "FM7", "FM7", "F A C E" },
        { "FΔ7", "Fmaj7", "F A C E" },
        { "Bm(maj7)", "BmMaj7", "B D F# A#" },
        { "BmMaj7", "BmMaj7", "B D F# A#" },
        { "Cm(M7)", "CmM7", "C Eb G B" },
        { "D-Δ7", "D-Δ7", "D F A C#" },
        { "Bø", "Bø", "B D F A" },
        { "Bø7", "Bø", "B D F A" },
        { "Bm7b5", "Bm7b5", "B D F A" },
        { "C#dim", "C#dim", "C# E G" },
        { "C#°", "C#dim", "C# E G" },
        { "G#o7", "G#o7", "G# B D F" },
        { "G#°7", "G#o7", "G# B D F" },
        { "Db+", "Db+", "Db F A" },
        { "G7#5", "G7#5", "G B D# F" },
        { "G+7", "G+7", "G B D# F" },
        { "Gaug7", "Gaug7", "G B D# F" },
        { "Asus2", "Asus2", "A B E" },
        { "Asus4", "Asus4", "A D E" },
        { "Esus", "Esus", "E A B" },
        { "E9sus4", "E9sus4", "E A B D F#" },
        { "F#13sus4", "F#13sus4", "F# B C# E G# D#" },
        { "Cadd2", "Cadd2", "C E G D" },
        { "Emadd9", "Emadd9", "E G B F#" },
        { "Eb9", "Eb9", "Eb G Bb Db F" },
        { "D11", "D11", "D A C E G" },
        { "A13", "A13", "A C# E G B F#" },
        { "Fm9", "Fm9", "F Ab C Eb G" },
        { "Gm11", "Gm11", "G Bb D F A C" },
        { "Cm13", "Cm13", "C Eb G Bb D A" },
        { "Dmaj9", "Dmaj9", "D F# A C# E" },
        { "Abmaj13", "Abmaj13", "Ab C Eb G Bb F" },
        { "B7b9", "B7b9", "B D# F# A C" },
        { "Bb7#11", "Bb7#11", "Bb D F Ab E" },
        { "F7b9#11", "F7b9#11", "F A C Eb Gb B" },
        { "F7(b9,#11)", "F7b9#11", "F A C Eb Gb B" },
        { "G13b9", "G13b9", "G B D F Ab E" },
        { "A7alt", "A7alt", "A C# E# G B#" },
        { "E7b5", "E7b5", "E G# Bb D" },
        { "D9#11", "D9#11", "D F# A C E G#" },
        { "Cmaj7#11", "Cmaj7#11", "C E G B F#" },
        { "Ebmaj9#11", "Ebmaj9#11", "Eb G Bb D F A" },
        { "C+maj7", "Cmaj7#5", "C E G# B" },
        { "Bb13#11", "Bb13#11", "Bb D F Ab C E G" },
        { "G7#9b13", "G7#9b13", "G B D F A# Eb" },
        { "Gm7/F", "Gm7/F", "F G Bb D" },
        { "D/F#", "D/F#", "F# A D" },
        { "Eb/Bb", "Eb/Bb", "Bb Eb G" },
        { "Ebmaj7/D", "Ebmaj7/D", "D Eb G Bb" },
        { "G7/B", "G7/B", "B D F G" },
        { "B♭m7", "Bbm7", "Bb Db F Ab" },
        { "F♯m", "F#m", "F# A C#" },
        { "Cm7-5", "Cm7b5", "C Eb Gb Bb" },
        { "C7+9", "C7#9", "C E G Bb D#" },
        { "F#7#9", "F#7#9", "F# A# C# E G##" },
        { "C9b5", "C9b5", "C E Gb Bb D" },
        { "C7#5#9", "C7#5#9", "C E G# Bb D#" },
        { "Cm9b5", "Cm9b5", "C D Eb Gb Bb" },
        { "C11b9", "C11b9", "C G Bb Db F" },
        { "Cm6", "Cm6", "C Eb G A" },
    };

    // Notations that tonal and GrooveLab share. Excluded because they differ: 7b13 (tonal drops the fifth, although it keeps it in
    // 7#9b13), m7#5 (tonal spells a minor sixth), a lone triangle (tonal: major seventh; here the triad).
    private static readonly string[] SharedSuffixes =
    [
        "", "M", "maj", "m", "min", "-", "5", "6", "m6", "6/9", "69", "m69", "7", "maj7", "M7", "Maj7", "m7", "min7", "-7", "mMaj7", "mM7",
        "m7b5", "dim", "o", "dim7", "o7", "aug", "+", "aug7", "+7", "7#5", "sus2", "sus4", "sus", "7sus4", "9sus4", "13sus4", "add9", "add2",
        "madd9", "9", "11", "13", "maj9", "maj13", "m9", "m11", "m13", "7b5", "7b9", "7#9", "7#11", "9#11", "13#11", "13b9", "7b9#11", "7b9#9",
        "7#5#9", "7#5b9", "7alt", "maj7#5", "maj7#11", "maj9#11", "9b5", "9#5", "11b9",
    ];

    private static readonly string[] Roots =
        ["C", "C#", "Db", "D", "D#", "Eb", "E", "F", "F#", "Gb", "G", "G#", "Ab", "A", "A#", "Bb", "B", "Cb", "Fb", "E#", "B#"];

    [Theory]
    [MemberData(nameof(TonalTable))]
    public void Parse_ChordOfTonalsTable_HasTonalsSpelling(string written, string asTonalWrites, string notes)
    {
        Assert.Equal(Sorted(notes.Split(' ')), SpelledTones(ChordSymbol.Parse(written)));
        Assert.Equal(notes.Split(' ')[0], ChordSymbol.Parse(written).Bass.ToString());
        Assert.Equal(ChordSymbol.Parse(asTonalWrites), ChordSymbol.Parse(written));
    }

    [Fact]
    public void Parse_EverySharedSuffixOnEveryRoot_EqualsTonalLive()
    {
        var symbols = Roots.SelectMany(root => SharedSuffixes.Select(suffix => root + suffix)).ToArray();
        var answers = RunTonal(
            "const {Chord}=require('tonal');"
            + "for(const s of require('fs').readFileSync(0,'utf8').split('\\n'))console.log(Chord.get(s).notes.join(' '));",
            string.Join('\n', symbols));
        Assert.Equal(symbols.Length, answers.Length);
        var differing = new List<string>();
        for (var i = 0; i < symbols.Length; i++)
        {
            var mine = SpelledTones(ChordSymbol.Parse(symbols[i]));
            if (mine != Sorted(answers[i].Split(' ')))
                differing.Add($"{symbols[i]}: {mine} against tonal's {answers[i]}");
        }

        Assert.Empty(differing);
    }

    [Fact]
    public void Midi_EveryPitchOfThePiano_EqualsTonalLive()
    {
        var pitches = Enumerable.Range(21, 88).SelectMany(midi => new[] { Pitch.FromMidi(midi), Pitch.FromMidi(midi, flats: true) }).ToArray();
        var answers = RunTonal(
            "const {Note}=require('tonal');for(const s of require('fs').readFileSync(0,'utf8').split('\\n'))console.log(Note.midi(s)+' '+Note.freq(s));",
            string.Join('\n', pitches));
        Assert.Equal(pitches.Length, answers.Length);
        for (var i = 0; i < pitches.Length; i++)
        {
            var fields = answers[i].Split(' ');
            Assert.Equal(int.Parse(fields[0], CultureInfo.InvariantCulture), pitches[i].Midi);
            Assert.Equal(double.Parse(fields[1], CultureInfo.InvariantCulture), pitches[i].Frequency, 9);
        }
    }

    private static string SpelledTones(ChordSymbol chord) =>
        Sorted([.. chord.Tones.Select(tone => tone.Name.ToString())]);

    private static string Sorted(string[] names) => string.Join(' ', names.Order(StringComparer.Ordinal));

    private static string[] RunTonal(string script, string input)
    {
        var node = References.RequireTool("node");
        var modules = Environment.GetEnvironmentVariable("GROOVELAB_NODE_MODULES") ?? "";
        var package = Path.Combine(modules, "tonal", "package.json");
        References.Require(
            File.Exists(package) && File.ReadAllText(package).Contains("\"version\": \"6.4.0\"", StringComparison.Ordinal),
            "GROOVELAB_NODE_MODULES does not name a node_modules folder with tonal 6.4.0 in it");
        var start = new ProcessStartInfo(node) { RedirectStandardInput = true, RedirectStandardOutput = true, UseShellExecute = false };
        start.ArgumentList.Add("-e");
        start.ArgumentList.Add(script);
        start.Environment["NODE_PATH"] = modules;
        using var process = Process.Start(start)!;
        var output = process.StandardOutput.ReadToEndAsync(TestContext.Current.CancellationToken);
        process.StandardInput.Write(input);
        process.StandardInput.Close();
        var lines = output.GetAwaiter().GetResult().TrimEnd('\n').Split('\n');
        process.WaitForExit();
        Assert.Equal(0, process.ExitCode);
        return lines;
    }
}
