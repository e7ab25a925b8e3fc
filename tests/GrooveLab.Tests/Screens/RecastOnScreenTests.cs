using System.Globalization;
using GrooveLab.Music.Performance;
using Xunit;

namespace GrooveLab.Tests.Screens;

/// <summary>A song that is moved into another meter, on the screen.</summary>
public sealed class RecastOnScreenTests
{
    private const string Song = """
        format = 1
        title = "Net and Needle"
        key = "D dorian"
        tempo = "quarter = 160"
        meter = "4/4 2+2"
        form = ["verse", "chorus"]

        [[part]]
        role = "bass"
        instrument = "cello"

        [[part]]
        role = "tune"
        instrument = "fiddle"

        # How it begins.
        [[section]]
        name = "verse"
        chords = "| Dm | C | Am | Dm |"  # as Grandmother sang it

        [section.tune]
        notes = "| D4:1 E4:1 F4:1 G4:1 | A4:2 G4:1 E4:1 | A4:1 A4:1 G4:1 E4:1 | D4:4 |"
        words = "Mend the bro-ken net at dawn, sing the ris-ing tide"

        [[section]]
        name = "chorus"
        chords = "| F | C | F | Dm |"

        [section.tune]
        notes = "| C5:2 A4:2 | G4:1 A4:1 G4:2 | C5:2 A4:2 | D4:4 |"
        words = "Haul a-way, my dar-ling, a-way"
        """;

    // A bar of the source lasts 1.5 s, and so do the two bars that it becomes.
    private const double Bar = 1.5;

    public static TheoryData<int, int> Sizes => new() { { 100, 30 }, { 80, 24 }, { 40, 12 } };

    private static TestScreen InBar(double bars)
    {
        var screen = new TestScreen(Song);
        screen.Play(0.2 + (Bar * 2.4));
        screen.Type("recast 5/8 3+2 by half-bar");
        screen.Play(Bar * (bars - 2.4));
        return screen;
    }

    [Theory]
    [MemberData(nameof(Sizes))]
    public void Picture_OfARecastSong_HasBothRhythmsUnderEachOther(int width, int height) => Golden.Equal(
        string.Create(CultureInfo.InvariantCulture, $"recast-{width}x{height}"), InBar(5.6).Picture(width, height).ToString());

    [Fact]
    public void Picture_BeforeItIsHeard_ShowsThatItWaits()
    {
        var screen = InBar(2.5);
        Assert.Null(screen.State().Pair);
        Assert.Contains("in 2 bars: recast 5/8 3+2 by half-bar", screen.Picture(100, 30).ToString(), StringComparison.Ordinal);
    }

    [Fact]
    public void Pair_OfEachBar_HasTheSameSyllablesAtTheirPlaces()
    {
        var screen = InBar(5.6);
        var pair = screen.State().Pair!;
        Assert.Equal(("4/4", "5/8"), (pair.Was.Meter, pair.Now.Meter));
        Assert.Equal(["way,", "my", "dar-"], pair.Was.Syllables.Select(syllable => syllable.Text));
        Assert.Equal([0, 0.25, 0.5], pair.Was.Syllables.Select(syllable => syllable.At));
        Assert.Equal(["way,", "my", "dar-"], pair.Now.Syllables.Select(syllable => syllable.Text));
        Assert.Equal([0, 0.3, 0.5], pair.Now.Syllables.Select(syllable => Math.Round(syllable.At, 6)));
        Assert.Equal([0, 0.5], pair.Now.Bars);
        Assert.Equal(2, pair.Current(screen.State().InBar));
    }

    [Fact]
    public void Pair_WhileTheSourceIsHeardAsA_IsThatOfTheKeptRecast()
    {
        var screen = new TestScreen(Song);
        screen.Play(0.2 + (Bar * 2.4));
        screen.Type("keep a");
        screen.Type("recast 5/8 3+2 by half-bar");
        screen.Play(Bar * 2.2);
        screen.Type("hear a");
        screen.Play(Bar);
        Assert.Equal(ComparedSide.A, screen.Conductor.History.Hearing);
        Assert.Equal("4/4", screen.State().Meter!.Signature.ToString());
        var pair = screen.State().Pair!;
        Assert.False(pair.IsNowHeard);
        Assert.Equal(["way,", "my", "dar-"], pair.Now.Syllables.Select(syllable => syllable.Text));
        Assert.Equal(1, pair.Current(0.3));
    }

    [Fact]
    public void Stop_ThenARecast_StartsAtTheSamePlace()
    {
        var screen = new TestScreen(Song);
        screen.Play(0.2 + (Bar * 2.4));
        screen.Press("p");
        _ = screen.State();
        screen.Type("recast 5/8 3+2 by half-bar");
        _ = screen.State();
        _ = screen.State();
        Assert.Contains("verse, bar 5", screen.State().Where, StringComparison.Ordinal);
        screen.Type("undo");
        _ = screen.State();
        Assert.Contains("verse, bar 3", screen.State().Where, StringComparison.Ordinal);
    }
}
