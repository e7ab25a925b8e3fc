using GrooveLab.Music.Performance;
using GrooveLab.Screen;
using Xunit;

namespace GrooveLab.Tests.Screens;

public sealed class CompletionTests : IDisposable
{
    private const string Song = """
        format = 1
        title = "Two Lamps"
        key = "D dorian"
        tempo = "eighth = 300"
        meter = "5/8 3+2"
        form = ["long verse", "refrain"]

        [[section]]
        name = "long verse"
        chords = "| Dm | C | G | Dm |"

        [[section]]
        name = "refrain"
        chords = "| F | C |"
        """;

    private readonly string _folder = Directory.CreateTempSubdirectory("completion").FullName;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    private static string? Completed(string typed, out TestScreen screen)
    {
        screen = new TestScreen(Song);
        screen.Play(0.2);
        screen.Press("x");
        foreach (var letter in typed)
        {
            screen.Press(letter == ' ' ? "space" : letter.ToString());
        }

        screen.Press("tab");
        return screen.State().Typed;
    }

    [Fact]
    public void Tab_EveryWord_IsCompleted()
    {
        var screen = new TestScreen(Song);
        foreach (var verb in ChangeWords.All.Select(form => form.Verb).Concat(ScreenActions.Forms.Select(form => form.Verb)))
        {
            for (var letters = 1; letters <= verb.Length; letters++)
            {
                Assert.Contains(verb, TypedCompletion.Of(verb[..letters], screen.Conductor.History, null).Words);
            }
        }
    }

    [Theory]
    [InlineData("key E", "key E")]
    [InlineData("key B", "key B")]
    [InlineData("key F# h", "key F# here ")]
    [InlineData("tempo l", "tempo learner ")]
    [InlineData("tem", "tempo ")]
    public void Tab_WordOfTheCommandLine_IsCompleted(string typed, string completed)
    {
        Assert.Equal(completed, Completed(typed, out var screen));
        Assert.Equal(typed.Length == 5, screen.State().Completions.Length > 0);
    }

    [Fact]
    public void Tab_EveryWordOfAUsage_IsCompleted()
    {
        var screen = new TestScreen(Song);
        var seen = 0;
        foreach (var usage in ChangeWords.All.Select(form => form.Usage).Concat(ScreenActions.Forms.Select(form => form.Usage)).Where(usage => usage.Contains(" | ")))
        {
            var verb = usage.Split(' ')[0];
            var before = usage.Contains("PART", StringComparison.Ordinal) ? $"{verb} bass " : verb + " ";
            foreach (var word in usage.Split(" | ").Skip(1).Select(choice => choice.Split(' ')[0]).Where(word => word.Length > 1 && word.All(char.IsAsciiLetterLower)))
            {
                seen++;
                Assert.Contains(word, TypedCompletion.Of(before + word[..1], screen.Conductor.History, null).Words);
            }
        }

        Assert.True(seen > 15, $"{seen}");
    }

    [Theory]
    [InlineData("lev", "level ")]
    [InlineData("level clicks -", "level clicks -")]
    [InlineData("mute cl", "mute clicks ")]
    [InlineData("MUTE CL", "MUTE clicks ")]
    [InlineData("jump lo", "jump long verse ")]
    [InlineData("section ref", "section refrain ")]
    [InlineData("chords long", "chords long verse ")]
    [InlineData("loop sea", "loop seam ")]
    [InlineData("loop long", "loop long verse ")]
    [InlineData("loop 1 2 in re", "loop 1 2 in refrain ")]
    [InlineData("start ref", "start refrain ")]
    [InlineData("start refrain no", "start refrain no-count-in ")]
    [InlineData("start long verse c", "start long verse count-in ")]
    [InlineData("view ch", "view chords ")]
    [InlineData("add roll banj", "add roll banjo ")]
    [InlineData("feel nar", "feel narrower ")]
    [InlineData("count-in of", "count-in off ")]
    [InlineData("round o", "round o")]
    [InlineData("reca", "reca")]
    [InlineData("recas", "recast ")]
    [InlineData("recast 5/8 b", "recast 5/8 by ")]
    [InlineData("recast 5/8 3+2 by h", "recast 5/8 3+2 by half-bar ")]
    [InlineData("recast 5/4 a", "recast 5/4 add-beat ")]
    [InlineData("recast 5/8 by bar h", "recast 5/8 by bar here ")]
    [InlineData("recast 5/8 in ref", "recast 5/8 in refrain ")]
    [InlineData("zz", "zz")]
    public void Tab_BeginningOfANameOrWord_CompletesIt(string typed, string completed) => Assert.Equal(completed, Completed(typed, out _));

    [Fact]
    public void Tab_SeveralFit_CompletesWhatTheyShareAndListsThem()
    {
        Assert.Equal("count", Completed("cou", out var screen));
        Assert.Equal("count  count-in", screen.State().Completions);
        var picture = screen.Picture(80, 24).ToString();
        Assert.Contains("count  count-in", picture, StringComparison.Ordinal);
        screen.Press("x");
        Assert.Empty(screen.State().Completions);
    }

    [Fact]
    public void Tab_MisspelledWord_SaysWhatIsMeant()
    {
        Completed("tmepo", out var screen);
        screen.Press("esc");
        Assert.Equal("nothing begins with 'tmepo'; did you mean tempo?", screen.State().Message);
    }

    [Theory]
    [InlineData("tmepo 120", "did you mean tempo?")]
    [InlineData("veiw", "did you mean view?")]
    [InlineData("stpo", "did you mean stop?")]
    [InlineData("mute clikcs", "did you mean clicks?")]
    [InlineData("jump refrian", "did you mean refrain?")]
    [InlineData("start refrian", "did you mean refrain?")]
    [InlineData("view cords", "accepted: band, words or chords")]
    public void Enter_Misspelled_SaysWhatIsMeant(string typed, string says)
    {
        var screen = new TestScreen(Song);
        screen.Play(0.2);
        screen.Type(typed);
        Assert.Contains(says, screen.State().Message, StringComparison.Ordinal);
        Assert.True(screen.State().MessageWarns);
    }

    [Fact]
    public void Tab_File_CompletesChartsAndFolders()
    {
        Directory.CreateDirectory(Path.Combine(_folder, "songs"));
        File.WriteAllText(Path.Combine(_folder, "songs", "two lamps.toml"), Song);
        File.WriteAllText(Path.Combine(_folder, "songs", "notes.md"), "x");
        var history = new TestScreen(Song).Conductor.History;

        Assert.Equal([$"{_folder}/songs/"], TypedCompletion.Of($"open {_folder}/so", history, null).Words);
        Assert.Equal([$"{_folder}/songs/two lamps.toml"], TypedCompletion.Of($"open {_folder}/songs/", history, null).Words);
        Assert.Empty(TypedCompletion.Of("open /no/such/folder/x", history, null).Words);
        Assert.Contains("anyway", TypedCompletion.Of("save any", history, null).Words);
    }

    [Fact]
    public void Picture_CaretInTheLine_IsShownWhereItIs()
    {
        var screen = new TestScreen(Song);
        screen.Play(0.2);
        screen.Press("x", "u", "n", "d", "o", "left", "left");
        Assert.Contains("change: un|do", screen.Picture(80, 24).ToString(), StringComparison.Ordinal);
        screen.Press("end");
        Assert.Contains("change: undo_", screen.Picture(40, 12).ToString(), StringComparison.Ordinal);
    }
}
