using System.Text.Json;
using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Tests;

/// <summary>The written notes in <c>show --json</c>, as in docs/show-json.md.</summary>
public sealed class WrittenJsonTests
{
    private const string Chart = """
        format = 1
        title = "Paper"
        key = "G minor"
        tempo = "quarter = 100"
        meter = "5/4 3+2"
        form = ["a", "a", "b"]
        swing = "2:1"
        [[part]]
        role = "pulse"
        instrument = "guitar"
        [[part]]
        role = "sustain"
        instrument = "cello"
        voices = 2
        [[part]]
        role = "tune"
        instrument = "concertina"
        octaves = 1
        consonants = true
        laid-back = "half"
        [[part]]
        role = "count"
        [[section]]
        name = "a"
        chords = "| Gm | Cm | Eb | D7 |"
        [section.tune]
        pickup = "D4:1"
        notes = "| (A4)Bb4:1 A4:0.5 Bb4:0.5 G4:3 | Eb4:3 G4:1 G4:1 | G4:2 Bb4:3~ | Bb4:1 F#4:3 r:1 |"
        words = ["Oh | dark riv-er, sing | ma-ny_ | songs and | * |", "So one two-three-four"]
        [[section]]
        name = "b"
        key = "Bb major"
        chords = "| Bb | F7 |"
        """;

    private static readonly Lazy<JsonElement> Shown = new(() =>
    {
        using var program = new Running();
        var ran = program.Run("show", program.Write("paper.toml", Chart), "--json");
        Assert.Equal((0, string.Empty), (ran.ExitCode, ran.Error));
        using var document = JsonDocument.Parse(ran.Out);
        return document.RootElement.Clone();
    });

    private static IReadOnlyList<JsonElement> Bars => [.. Shown.Value.GetProperty("bars").EnumerateArray()];

    // Once a bug: a bar of an ending had two members with the name "ending", a number and true or false.
    [Fact]
    public void Bars_OfAnEnding_HaveEveryNameOnce()
    {
        const string Text = """
            format = 2
            title = "Twice"
            key = "G minor"
            tempo = "quarter = 100"
            meter = "5/4 3+2"
            form = ["a x2"]
            [[section]]
            name = "a"
            chords = "| Gm | Cm |"
            [[section.ending]]
            chords = "| D7 |"
            [[section.ending]]
            chords = "| Gm |"
            """;
        using var program = new Running();
        var ran = program.Run("show", program.Write("twice.toml", Text), "--json");
        Assert.Equal((0, string.Empty), (ran.ExitCode, ran.Error));

        using var document = JsonDocument.Parse(ran.Out, new JsonDocumentOptions { AllowDuplicateProperties = false });

        Assert.Equal(
            [0, 0, 1, 0, 0, 2, 0],
            document.RootElement.GetProperty("bars").EnumerateArray().Select(bar => bar.TryGetProperty("endingNumber", out var number) ? number.GetInt32() : 0));
    }

    [Fact]
    public void Written_TuneNote_HasItsSpellingPlaceAndSyllable()
    {
        var bar = Bars[0];
        var tune = Notes(bar, "tune");
        Assert.Equal(
            """{"place":"0","length":"0","pitch":"A5","ornament":{"kind":"grace","number":1,"of":1},"tune":{"section":"a","playing":0,"note":1,"octaves":1}}""",
            Written(tune[0]));
        Assert.Equal(
            """{"place":"0","length":"1/4","pitch":"Bb5","syllable":{"text":"dark","place":"single","note":1,"of":1,"verse":1},"tune":{"section":"a","playing":0,"note":1,"octaves":1}}""",
            Written(tune[1]));
        Assert.Equal(
            """{"place":"1/4","length":"0","pitch":"G5","ornament":{"kind":"consonant","number":1,"of":1},"tune":{"section":"a","playing":0,"note":2,"octaves":1}}""",
            Written(tune[2]));
        Assert.Equal(
            """{"place":"3/8","length":"1/8","pitch":"Bb5","syllable":{"text":"er,","place":"end","note":1,"of":1,"verse":1},"tune":{"section":"a","playing":0,"note":3,"octaves":1}}""",
            Written(tune[4]));
        Assert.Equal("5/12", tune[4].GetProperty("onset").GetString());
    }

    [Fact]
    public void Written_LateNoteWithAHeldConsonant_HasItsPlaceAndItsLateness()
    {
        var sung = Notes(Bars[1], "tune").Skip(2).Take(2).ToList();
        Assert.Equal(
            """{"place":"3/4","length":"0","pitch":"G5","ornament":{"kind":"held-consonant","number":1,"of":1},"tune":{"section":"a","playing":0,"note":6,"octaves":1}}""",
            Written(sung[0]));
        // Half a unit would be 300 ms, more than a singer lays back: three eighths of it.
        Assert.Equal(
            """{"place":"3/4","length":"1/4","pitch":"G5","late":"3/32","syllable":{"text":"ny","place":"end","note":1,"of":2,"verse":1},"tune":{"section":"a","playing":0,"note":6,"octaves":1}}""",
            Written(sung[1]));
        Assert.Equal("7/8", sung[1].GetProperty("onset").GetString());
    }

    [Fact]
    public void Written_MelismaAndTie_AreOneSyllableOnNotesAndOneNote()
    {
        var bars = Bars;
        Assert.Equal([1, 2], Notes(bars[1], "tune").TakeLast(2).Select(note => note.GetProperty("written").GetProperty("syllable").GetProperty("note").GetInt32()));
        Assert.Equal("1", Notes(bars[2], "tune").Last().GetProperty("written").GetProperty("length").GetString());
    }

    [Fact]
    public void Written_SecondPlaying_SingsItsOwnVerse()
    {
        var bars = Bars;
        Assert.Equal([0, 0, 0, 0, 1, 1, 1, 1, 0, 0, 0], bars.Select(bar => bar.GetProperty("playing").GetInt32()));
        Assert.Equal([0, 1, 2, 3, 0, 1, 2, 3, 0, 1, 2], bars.Select(bar => bar.GetProperty("barInSection").GetInt32()));
        var pickup = Notes(bars[3], "tune").Last().GetProperty("written");
        Assert.Equal((1, "So", 2), (
            pickup.GetProperty("tune").GetProperty("playing").GetInt32(),
            pickup.GetProperty("syllable").GetProperty("text").GetString(),
            pickup.GetProperty("syllable").GetProperty("verse").GetInt32()));
    }

    [Fact]
    public void Bars_OfSections_HaveTheirKeysAndSwing()
    {
        var bars = Bars;
        Assert.Equal(Enumerable.Repeat("G minor", 8).Concat(Enumerable.Repeat("Bb major", 3)), bars.Select(bar => bar.GetProperty("key").GetString()));
        Assert.All(bars, bar => Assert.Equal("2", bar.GetProperty("swing").GetString()));
        Assert.Equal("Oh", Notes(Shown.Value.GetProperty("leadIn"), "tune").Last().GetProperty("written").GetProperty("syllable").GetProperty("text").GetString());
    }

    [Fact]
    public void Written_ChordsAndHeldVoices_SayWhatBelongsTogether()
    {
        var bars = Bars;
        foreach (var stroke in bars.SelectMany(bar => Notes(bar, "guitar").GroupBy(note => note.GetProperty("written").GetProperty("place").GetString()).Where(stroke => stroke.Count() > 1)))
        {
            var members = stroke.Select(note => note.GetProperty("written").GetProperty("chord")).ToList();
            Assert.Equal(Enumerable.Range(1, stroke.Count()), members.Select(member => member.GetProperty("number").GetInt32()).Order());
            Assert.All(members, member => Assert.Equal(stroke.Count(), member.GetProperty("of").GetInt32()));
        }

        var held = bars.SelectMany(bar => Notes(bar, "cello")).Select(note => note.GetProperty("written")).ToList();
        Assert.Contains(held, note => note.TryGetProperty("voice", out var voice) && voice.GetInt32() == 1);
        Assert.Contains(held, note => note.TryGetProperty("join", out var join) && join.GetString() is "slurred" or "held-on");
    }

    [Fact]
    public void Written_EveryEvent_IsPlayedWhereSwingAndLatenessPutIt()
    {
        foreach (var note in Bars.SelectMany(bar => bar.GetProperty("events").EnumerateArray()))
        {
            var written = note.GetProperty("written");
            var place = Fraction(written, "place") + (written.TryGetProperty("late", out _) ? Fraction(written, "late") : 0);
            var quarters = place * 4;
            var inside = quarters - quarters.Floor();

            // Two to one: the first half of each quarter takes two thirds of it.
            var swung = inside <= new Rational(1, 2) ? inside * new Rational(4, 3) : new Rational(2, 3) + ((inside - new Rational(1, 2)) * new Rational(2, 3));
            Assert.Equal(Fraction(note, "onset"), (quarters.Floor() + swung) / 4);
        }
    }

    private static Rational Fraction(JsonElement element, string member) =>
        Rational.TryParse(element.GetProperty(member).GetString()!, out var value) ? value : throw new FormatException(member);

    private static List<JsonElement> Notes(JsonElement bar, string part) =>
    [
        .. bar.GetProperty("events").EnumerateArray().Where(note => note.GetProperty("part").GetString() == part || note.GetProperty("role").GetString() == part),
    ];

    private static string Written(JsonElement note) => JsonSerializer.Serialize(note.GetProperty("written"));
}
