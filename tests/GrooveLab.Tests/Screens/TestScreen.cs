using GrooveLab.Audio.Conducting;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Exchange.Charts;
using GrooveLab.Music.Performance;
using GrooveLab.Screen;
using GrooveLab.Store;
using GrooveLab.Tests.Conducting;

namespace GrooveLab.Tests.Screens;

/// <summary>A screen for a performance without a device or clock; the test decides how far it plays.</summary>
internal sealed class TestScreen : IScreenPerformance
{
    private readonly LedBand _band;

    public TestScreen(string chart, string settings = "", bool countIn = false, bool ends = false)
    {
        _band = new LedBand(
            ChartReader.ReadText(chart, "song").Chart!, start: new StartOptions { CountIn = countIn, Ends = ends })
        {
            KeepsSamples = false,
        };
        Keys = new ScreenKeys(KeySettings.Read(settings, ScreenActions.Problem));
        Keys.Show(this);
    }

    public ScreenKeys Keys { get; }

    public Conductor Conductor => _band.Conductor;

    public Playhead Heard => _band.Engine.PlayheadAt(_band.FrameAgain);

    public Playhead HeardAgo(double seconds) => _band.Engine.PlayheadAt(_band.FrameAgain - (long)Math.Round(seconds * LedBand.Rate));

    public Health Health { get; set; } = Health.Good;

    public string Links { get; set; } = string.Empty;

    public string? Saved { get; private set; }

    public IReadOnlyList<Music.Bars.Bar> Played => _band.Played;

    /// <summary>Where it was started again; empty before.</summary>
    public List<StartPoint> Starts { get; } = [];

    /// <summary>Set to be ready and not yet started.</summary>
    public bool Waits { get; set; }

    public Standing Standing => Waits ? Standing.Ready
        : _band.Engine.Playhead.State switch
        {
            TransportState.Stopped => Standing.Stopped,
            TransportState.Ended => Standing.Ended,
            _ => Standing.Playing,
        };

    public void Halt()
    {
        _band.Engine.Post(EngineCommand.Stop(0.3));
        Play(0.5);
    }

    public ChangeAnswer Begin(StartPoint start)
    {
        Starts.Add(start);
        Waits = false;
        _band.PlayAgain(start);
        return new ChangeAnswer(true, "starting");
    }

    public double Seconds => _band.Frame / (double)LedBand.Rate;

    // The band under test reads them itself.
    public IReadOnlyList<EngineReport> News() => [];

    public int Saves { get; private set; }

    public ChangeAnswer Save(string? path)
    {
        Saved = path ?? "its own file";
        Saves++;
        return new ChangeAnswer(true, "saved in " + Saved);
    }

    public bool IsUnsaved { get; set; }

    public ComparedSide? UnsavedSide { get; set; }

    public string? RefusedVersion { get; set; }

    public string? KeepVersionNow(string name) => RefusedVersion;

    public bool CanKeep { get; set; } = true;

    public IReadOnlyList<string> NotKept { get; set; } = [];

    public bool KeepNow() => CanKeep || !IsUnsaved;

    public ChangeAnswer SaveAnyway()
    {
        Saved = "over what was there";
        return new ChangeAnswer(true, "saved " + Saved);
    }

    public ChangeAnswer Discard() => new(true, "discarded");

    public void Play(double seconds) => _band.Read((long)(seconds * LedBand.Rate));

    public void Press(params string[] keys)
    {
        foreach (var key in keys)
        {
            Keys.Press(key, Seconds);
        }
    }

    public void Type(string words)
    {
        Press("x");
        foreach (var letter in words)
        {
            Press(letter == ' ' ? "space" : letter.ToString());
        }

        Press("enter");
    }

    public ScreenState State() => Keys.StateAt(Seconds);

    public Canvas Picture(int width, int height, bool ascii = false)
    {
        var canvas = new Canvas { Ascii = ascii };
        canvas.Begin(width, height);
        ScreenPicture.Draw(canvas, State());
        return canvas;
    }
}
