using System.Globalization;
using GrooveLab.Audio.Devices;
using GrooveLab.Audio.Playback;
using GrooveLab.Commands;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Time;
using GrooveLab.Store;
using Xunit;

namespace GrooveLab.Tests.Screens;

/// <summary>Problems show on the screen at every size and in the status line; nothing shows without problems.</summary>
public sealed class HealthOnScreenTests
{
    private const string Song = """
        format = 1
        title = "Two Lamps"
        key = "D dorian"
        tempo = "eighth = 300"
        meter = "5/8 3+2"
        bar-groups = 4
        looseness = 0

        [[section]]
        name = "a"
        chords = "| Dm | C | G | Dm |"
        """;

    public static TheoryData<int, int> Sizes { get; } = new() { { 100, 30 }, { 80, 24 }, { 40, 12 } };

    [Theory]
    [MemberData(nameof(Sizes))]
    public void Picture_WithTroubles_IsAsDrawn(int width, int height) => Golden.Equal(
        string.Create(CultureInfo.InvariantCulture, $"trouble-{width}x{height}"), Ill().Picture(width, height).ToString());

    [Theory]
    [InlineData(200, 50, "no sound device: playing in silence and trying again (usb was lost); 2 gaps in the sound; a larger --buffer helps on a busy machine")]
    [InlineData(100, 30, "no sound device, 2 gaps, keeping unsaved changes failed")]
    [InlineData(80, 24, "no sound device, 2 gaps, keeping unsaved changes failed")]
    [InlineData(60, 20, "no sound device, 2 gaps +1")]
    [InlineData(40, 12, "no sound device, 2 gaps +1")]
    [InlineData(30, 8, "no sound device, 2 gaps +1")]
    [InlineData(25, 6, "no sound device +2")]
    [InlineData(18, 3, "no sound device +2")]
    public void Picture_AnySize_TellsTheGravestFirst(int width, int height, string words) =>
        Assert.Contains(words, Ill().Picture(width, height).ToString(), StringComparison.Ordinal);

    [Theory]
    [InlineData(100, 30)]
    [InlineData(80, 24)]
    public void Picture_MidiPortAndTroubles_ShowsBothInOneRow(int width, int height)
    {
        var screen = Ill();
        screen.Links = "MIDI to Lantern Box";

        var row = Assert.Single(screen.Picture(width, height).ToString().Split('\n'), line => line.Contains("MIDI to Lantern Box", StringComparison.Ordinal));
        Assert.Contains("no sound device", row, StringComparison.Ordinal);
    }

    [Theory]
    [MemberData(nameof(Sizes))]
    public void Picture_InAscii_TellsItToo(int width, int height)
    {
        var text = Ill().Picture(width, height, ascii: true).ToString();
        Assert.All(text, letter => Assert.True(letter is '\n' or (>= ' ' and <= '~'), letter.ToString()));
        Assert.Contains("no sound device", text, StringComparison.Ordinal);
    }

    [Theory]
    [MemberData(nameof(Sizes))]
    public void Picture_AllWell_SpeaksOfNothing(int width, int height)
    {
        var well = new Unwell();
        var screen = new TestScreen(Song);
        screen.Play(1.4);
        var before = screen.Picture(width, height).ToString();
        screen.Health = well.Health;
        Assert.Equal(before, screen.Picture(width, height).ToString());
    }

    [Theory]
    [InlineData(100, 30)]
    [InlineData(40, 20)]
    public void List_WithTroubles_TellsAllInSentencesAndWhereTheDetailsAre(int width, int height)
    {
        var screen = Ill();
        screen.Press("?");
        var picture = screen.Picture(width, height).ToString();
        var words = string.Join(' ', picture.Split('\n', StringSplitOptions.TrimEntries));
        Assert.StartsWith("Problems while playing", words, StringComparison.Ordinal);
        Assert.Contains("2 gaps in the sound; a larger --buffer helps on a busy machine", words, StringComparison.Ordinal);
        Assert.Contains("keeping unsaved changes: disk full", words, StringComparison.Ordinal);
        Assert.Contains("details in", words, StringComparison.Ordinal);
        Assert.Contains(Survived.File.Path, words.Replace(" ", string.Empty, StringComparison.Ordinal), StringComparison.Ordinal);
    }

    [Fact]
    public void StatusLine_WithTroubles_TellsThemBrieflyBehindTheChord()
    {
        var band = new BarComposer(DemoCommand.Chart());
        var ill = new Unwell { Underruns = 2, State = AudioOutputState.Silent };
        var line = new StatusLine(band);
        var bar = band.BarAt(2);

        var well = line.Text(bar, Span.Zero, new Unwell().Health);
        var told = line.Text(bar, Span.Zero, ill.Health);

        Assert.StartsWith($"bar 3 of {band.End}  ", well, StringComparison.Ordinal);
        Assert.EndsWith("  " + bar.Chords[0].Symbol.Text, well, StringComparison.Ordinal);
        Assert.Equal(well + "  (no sound device, 2 gaps)", told);
    }

    private static TestScreen Ill()
    {
        var ill = new Unwell
        {
            Underruns = 2,
            State = AudioOutputState.Silent,
            TriesAgain = true,
            Failure = new AudioDeviceException(AudioDeviceErrorKind.Lost, "usb was lost."),
        };
        ill.Failures.Add("keeping unsaved changes", new IOException("disk full"));
        var screen = new TestScreen(Song) { Health = ill.Health };
        screen.Play(1.4);
        return screen;
    }
}
