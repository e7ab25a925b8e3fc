using GrooveLab.Audio.Devices;
using GrooveLab.Inputs;
using GrooveLab.Music.Performance;
using GrooveLab.Screen;
using GrooveLab.Store;
using GrooveLab.Tests.Store;
using NAudio.Wave;
using Xunit;

namespace GrooveLab.Tests.Screens;

/// <summary>The songs of a set one after another, and starting again, with the files of a performance and outputs without sound.</summary>
public sealed class StageTests : StoreFolder
{
    private const string Chart = """
        format = 1
        title = "TITLE"
        key = "D dorian"
        tempo = "eighth = 300"
        meter = "5/8 3+2"
        times = 50

        [[section]]
        name = "a"
        chords = "| Dm | C |"
        """;

    private readonly ScreenKeys _keys = new(KeySettings.Read(string.Empty, ScreenActions.Problem));
    private readonly List<IAudioOutput> _outputs = [];
    private Stage? _stage;

    private Stage Begin(params string[] titles)
    {
        foreach (var title in titles)
        {
            File.WriteAllText(Named(title), title == "Bad" ? "format = 1" : Chart.Replace("TITLE", title, StringComparison.Ordinal));
        }

        var options = new PerformanceOptions { Data = Data, Open = Opened, Start = new StartOptions { Ends = true, CountIn = false } };
        return _stage = titles.Length == 1
            ? new Stage(options with { Path = Named(titles[0]) }, null, _keys)
            : new Stage(options, SetList.Read([.. titles.Select(Named)]), _keys);
    }

    private string Named(string title) => Path.Combine(Songs, title + ".toml");

    private IAudioOutput Opened(ISampleProvider source)
    {
        var output = PacedClockOutput.Open(AudioOutputs.DefaultSampleRate, source);
        lock (_outputs)
        {
            _outputs.Add(output);
        }

        return output;
    }

    // Other threads open charts; the test waits for what they do, not for a time.
    private void Until(Func<bool> isDone) => Assert.True(SpinWait.SpinUntil(
        () =>
        {
            _stage!.Turn(0);
            _keys.StateAt(0);
            return isDone();
        },
        TimeSpan.FromMinutes(2)));

    private string Title => _stage!.Performance?.Conductor.State.Chart.Title ?? string.Empty;

    private void End() => _stage!.End((_, step) => step());

    [Fact]
    public void Turn_SingleChart_StartsAtOnceAndSaysHowItEnds()
    {
        Begin("One");
        Until(() => _stage!.Performance is { Standing: Standing.Playing });
        Assert.Equal("plays the form 50 times, then ends; 'round on' repeats it", _keys.StateAt(0).Message);
        End();
    }

    [Fact]
    public void Turn_Set_WaitsAndGoesToTheNextAndBackPastABrokenChart()
    {
        Begin("One", "Bad", "Two");
        Until(() => Title == "One");
        Assert.Equal(Standing.Ready, _stage!.Performance!.Standing);
        Assert.StartsWith("Bad.toml:1:1: ", _keys.StateAt(0).Message, StringComparison.Ordinal);
        Assert.Equal("song 1 of 3", _keys.StateAt(0).Song);

        _keys.Press("space", 0);
        Until(() => _stage.Performance!.Standing == Standing.Playing);
        _keys.Press(".", 0);
        Until(() => Title == "Two");
        Assert.Equal(Standing.Ready, _stage.Performance!.Standing);
        Assert.Equal("song 3 of 3", _keys.StateAt(0).Song);
        _keys.Press(".", 0);
        Assert.Equal("this is the last song", _keys.StateAt(0).Message);

        _keys.Press(",", 0);
        Until(() => Title == "One");
        _keys.Press("x", 0);
        foreach (var letter in "song Two".Select(letter => letter == ' ' ? "space" : letter.ToString()).Append("enter"))
        {
            _keys.Press(letter, 0);
        }

        Until(() => Title == "Two");
        End();

        // Only what was started had a device, and none has one now.
        Assert.All(_outputs, output => Assert.True(output.Completion.IsCompleted));
        Assert.Single(_outputs);
    }

    // A chart with its title and many errors.
    private string Broken(string title) => Chart.Replace("TITLE", title, StringComparison.Ordinal)
        .Replace("key =", "kee =", StringComparison.Ordinal).Replace("meter = ", "meter = 9", StringComparison.Ordinal)
        .Replace("| Dm | C |", "| H | C | X |", StringComparison.Ordinal) + "\nnonsense = 1\nrubbish = 2\n";

    [Theory]
    [InlineData(100, 30)]
    [InlineData(80, 24)]
    [InlineData(40, 12)]
    public void Turn_BrokenSongInTheSet_IsNamedInBriefAndFoundByName(int width, int height)
    {
        foreach (var title in new[] { "One", "Two" })
        {
            File.WriteAllText(Named(title), Chart.Replace("TITLE", title, StringComparison.Ordinal));
        }

        File.WriteAllText(Named("br"), Broken("Bright Harbour"));
        _stage = new Stage(
            new PerformanceOptions { Data = Data, Open = Opened, Start = new StartOptions { Ends = true, CountIn = false } },
            SetList.Read([Named("One"), Named("br"), Named("Two")]),
            _keys);
        Until(() => Title == "One");

        var first = _keys.StateAt(0).Message;
        Assert.StartsWith("Bright Harbour: br.toml:", first, StringComparison.Ordinal);
        Assert.Matches("; and [0-9]+ more errors; [?]: all problems$", first);
        var picture = Drawn(width, height);
        Assert.True(
            picture.Split('\n').Any(line => line.Contains("READY", StringComparison.Ordinal) || line.Contains("R E A D Y", StringComparison.Ordinal)
                || line.Contains("space, pedal: start", StringComparison.Ordinal)),
            picture);
        Assert.Contains("Bright Harbour", picture, StringComparison.Ordinal);

        foreach (var typed in new[] { "song br", "song bright", "song br.toml", "song 2" })
        {
            _keys.Say(string.Empty, warns: false, 0);
            Type(typed, "enter");
            Assert.Equal(first, _keys.StateAt(0).Message);
        }

        Type("song br", "tab");
        Assert.Equal("song Bright Harbour ", _keys.StateAt(0).Typed);
        _keys.Press("esc", 0);
        _keys.Press("?", 0);
        Assert.True(_keys.StateAt(0).Over!.Count(line => line.Contains("br.toml:", StringComparison.Ordinal)) > 3);
        End();
    }

    private void Type(string words, string last)
    {
        _keys.Press("x", 0);
        foreach (var letter in words.Select(letter => letter == ' ' ? "space" : letter.ToString()).Append(last))
        {
            _keys.Press(letter, 0);
        }
    }

    private string Drawn(int width, int height)
    {
        var canvas = new Canvas();
        canvas.Begin(width, height);
        ScreenPicture.Draw(canvas, _keys.StateAt(0));
        return canvas.ToString();
    }

    [Theory]
    [InlineData(100, 30)]
    [InlineData(80, 24)]
    [InlineData(60, 20)]
    [InlineData(40, 12)]
    [InlineData(30, 8)]
    [InlineData(20, 4)]
    public void Turn_LongTitle_LeavesThePlaceInTheSet(int width, int height)
    {
        const string Long = "The Very Long Title of a Song about the Lamps of the Harbour and the Ferry that Came Home Late in the Winter of the Year";
        File.WriteAllText(Named("One"), Chart.Replace("TITLE", "One", StringComparison.Ordinal));
        File.WriteAllText(Named("Long"), Chart.Replace("TITLE", Long, StringComparison.Ordinal).Replace("\"a\"", "\"" + Long + "\"", StringComparison.Ordinal));
        _stage = new Stage(
            new PerformanceOptions { Data = Data, Open = Opened, Start = new StartOptions { Ends = true, CountIn = false } },
            SetList.Read([Named("One"), Named("Long")]),
            _keys);
        Until(() => Title == "One");
        _keys.Press(".", 0);
        Until(() => Title == Long);
        foreach (var view in ScreenActions.Views)
        {
            _keys.Act("view " + view, 0);
            _keys.Say(string.Empty, warns: false, 0);
            var first = Drawn(width, height).Split('\n')[..2];
            Assert.Contains(first, line => line.Contains("song 2 of 2", StringComparison.Ordinal) || line.Contains("2/2", StringComparison.Ordinal));
        }

        _keys.Press("space", 0);
        Until(() => _stage.Performance!.Standing == Standing.Playing && _stage.Performance.Heard.Bar is not null);
        foreach (var view in ScreenActions.Views)
        {
            _keys.Act("view " + view, 0);
            var first = Drawn(width, height).Split('\n')[..2];
            Assert.Contains(first, line => line.Contains("song 2 of 2", StringComparison.Ordinal) || line.Contains("2/2", StringComparison.Ordinal));
        }

        End();
    }

    [Fact]
    public void Turn_NextSongWithUnsavedChanges_KeepsAndOffersThem()
    {
        Begin("One", "Two");
        Until(() => Title == "One");
        Assert.True(_stage!.Performance!.Conductor.Do("up 2").Taken);

        _keys.Press(".", 0);
        Until(() => Title == "Two");
        Assert.Equal("unsaved changes of One are kept; opening it again offers them", _keys.StateAt(0).Message);
        Until(() => _stage.Leaving.IsCompleted);

        _keys.Press(",", 0);
        Until(() => Title == "One");
        Assert.StartsWith("unsaved changes from ", _keys.StateAt(0).Message, StringComparison.Ordinal);
        _keys.Press("y", 0);
        Assert.True(_stage.Performance!.IsUnsaved);
        End();
    }

    [Fact]
    public void Turn_SetShown_TheNextSongIsPreparedWithoutADevice()
    {
        Begin("One", "Two");
        Until(() => Title == "One" && _stage!.IsNextReady);
        Assert.Empty(_outputs);

        // It does not read the file again.
        File.Delete(Named("Two"));
        _keys.Press(".", 0);
        Until(() => Title == "Two");
        End();
        Assert.Empty(Names(Path.Combine(Data, "performances")));
    }

    [Fact]
    public void Turn_StoppedAndStartedInTheMiddle_PlaysOnFromThere()
    {
        Begin("One");
        Until(() => _stage!.Performance is { Standing: Standing.Playing } && _keys.StateAt(0).Where.StartsWith("a, ", StringComparison.Ordinal));
        _keys.Press("p", 0);
        Until(() => _stage!.Performance!.Standing == Standing.Stopped);
        Assert.StartsWith("stopped at a, bar ", _keys.StateAt(0).Where, StringComparison.Ordinal);

        _keys.Press("P", 0);
        Until(() => _stage!.Performance!.Standing == Standing.Playing);
        _keys.Press("p", 0);
        Until(() => _stage!.Performance!.Standing == Standing.Stopped);
        Assert.Equal(2, _outputs.Count);
        Assert.True(_outputs[0].Completion.IsCompleted);
        End();
    }

    [Fact]
    public void Turn_OpenAnotherChart_PlaysItAndABadOneIsRefused()
    {
        Begin("One");
        Until(() => _stage!.Performance is { Standing: Standing.Playing });
        File.WriteAllText(Named("Other"), Chart.Replace("TITLE", "Other", StringComparison.Ordinal));
        _keys.Act("open " + Named("none"), 0);
        Until(() => _keys.StateAt(0).Message.Contains("file not found", StringComparison.Ordinal));
        Assert.Equal(Standing.Playing, _stage!.Performance!.Standing);

        _keys.Act("open " + Named("Other"), 0);
        Until(() => Title == "Other" && _stage.Performance is { Standing: Standing.Playing });
        End();
    }

    // Once a bug: the count-in began.
    [Fact]
    public void Turn_OpenAnotherChartWhileStopped_StaysSilent()
    {
        Begin("One");
        Until(() => _stage!.Performance is { Standing: Standing.Playing });
        File.WriteAllText(Named("Other"), Chart.Replace("TITLE", "Other", StringComparison.Ordinal));
        _keys.Act("stop", 0);
        Until(() => _stage!.Performance is { Standing: Standing.Stopped });

        _keys.Act("open " + Named("Other"), 0);
        Until(() => Title == "Other");

        Assert.Equal(Standing.Ready, _stage!.Performance!.Standing);
        End();
    }

    [Fact]
    public void Turn_ChangeWhileReady_IsHeardFromTheFirstBar()
    {
        Begin("One", "Two");
        Until(() => Title == "One");
        Assert.True(_stage!.Performance!.Conductor.Do("up 2").Taken);
        _keys.Press("space", 0);
        Until(() => _stage.Performance.Standing == Standing.Playing && _stage.Performance.Heard.Bar is not null);
        Assert.Equal("Em", _stage.Performance.Heard.Bar!.Chords[0].Symbol.Text);
        End();
    }

    // Once a bug: the next song was played as it was when it was prepared.
    [Fact]
    public void Turn_NextSongEditedAfterItWasPrepared_IsReadAgain()
    {
        Begin("One", "Two");
        Until(() => Title == "One" && _stage!.IsNextReady);
        File.WriteAllText(Named("Two"), Chart.Replace("TITLE", "Two again", StringComparison.Ordinal));

        _keys.Press(".", 0);
        Until(() => Title.StartsWith("Two", StringComparison.Ordinal));

        Assert.Equal("Two again", Title);
        Assert.Contains("  2 Two again", string.Join('\n', Help()), StringComparison.Ordinal);
        End();
    }

    // Once a bug: the failed preparation was what the player got, also after the repair.
    [Fact]
    public void Turn_NextSongBrokenWhenItWasPreparedAndRepairedSince_IsPlayed()
    {
        Begin("One", "Two", "Three");
        File.WriteAllText(Named("Two"), Broken("Two"));
        Until(() => Title == "One" && _stage!.IsNextTried);
        Assert.False(_stage!.IsNextReady);
        File.WriteAllText(Named("Two"), Chart.Replace("TITLE", "Two", StringComparison.Ordinal));

        _keys.Press(".", 0);
        Until(() => Title == "Two" || _keys.StateAt(0).Message.Contains("cannot be played", StringComparison.Ordinal));

        Assert.Equal("Two", Title);
        End();
    }

    // Once a bug: a song that was broken or missing when the program started stayed so.
    [Theory]
    [InlineData(true)]
    [InlineData(false)]
    public void Turn_BrokenOrMissingSongRepaired_CanBePlayed(bool exists)
    {
        Begin("One", "Bad", "Three");
        if (!exists)
        {
            File.Delete(Named("Bad"));
            _stage = new Stage(
                new PerformanceOptions { Data = Data, Open = Opened, Start = new StartOptions { Ends = true, CountIn = false } },
                SetList.Read([Named("One"), Named("Bad"), Named("Three")]),
                _keys);
        }

        Until(() => Title == "One");
        File.WriteAllText(Named("Bad"), Chart.Replace("TITLE", "Whole", StringComparison.Ordinal));
        var seconds = 0.0;
        Until(() =>
        {
            _stage!.Turn(seconds += 0.6);
            return Help().Any(line => line.EndsWith("  2 Whole", StringComparison.Ordinal));
        });
        Assert.DoesNotContain(Help(), line => line.Contains("Problems in the set", StringComparison.Ordinal));

        _keys.Press(".", 0);
        Until(() => Title != "One");

        Assert.Equal("Whole", Title);
        End();
    }

    private List<string> Help()
    {
        _keys.Press("?", 0);
        List<string> lines = [.. _keys.StateAt(0).Over!];
        _keys.Press("esc", 0);
        return lines;
    }
}
