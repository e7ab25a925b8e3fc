using GrooveLab.Music.Performance;
using GrooveLab.Screen;
using Xunit;

namespace GrooveLab.Tests.Screens;

/// <summary>What the screen answers to a typed line that is not right: it names the wrong word, suggests the one that is probably meant, and
/// changes nothing.</summary>
public sealed class MisspeltWordsTests
{
    private const string Song = """
        format = 2
        title = "Two Weirs"
        key = "E dorian"
        tempo = "eighth = 260"
        learner-tempo = "eighth = 180"
        meter = "7/8 2+2+3"
        form = ["verse x2", "refrain"]

        [[section]]
        name = "verse"
        chords = "| Em | D |"
        [section.tune]
        notes = "| E4:2 G4 B4:3 | A4:2 F#4 D4:3 |"
        words = "Two weirs a-bove the mill"
        [[section.line]]
        name = "second voice"
        notes = "| B3:2 E4 G4:3 | F#4:2 D4 A3:3 |"
        words = "Two weirs a-bove the mill"
        [[section.ending]]
        chords = "| Bm |"
        [[section.ending]]
        chords = "| D | Em |"

        [[section]]
        name = "refrain"
        chords = "| G | D |"
        """;

    // Words that read a name or a file of the player's own, or are read as a whole.
    private static readonly string[] FreeText = ["version", "recall", "rename", "open", "save", "type", "song", "words", "chords", "rhythm"];

    // A line that is accepted, for every word that takes arguments: with all of them, but without a section.
    private static readonly string[] Lines =
    [
        "tempo 120", "ramp 140 over 2", "meter 7/8 3+2+2", "grouping 3+2+2", "recast 5/8 none", "feel group", "level cello -3", "pan cello left", "mute cello on",
        "solo cello off", "role cello bass", "instrument cello fiddle", "add roll banjo", "remove cello", "count units",
        "crossing hammered dulcimer free", "density hammered dulcimer half", "laid-back cello half", "without cello off", "register cello C3-C4",
        "rename cello to low one", "arrangement none", "strokes bouzouki down", "damped bouzouki on", "voices cello 2", "share bouzouki between", "strum-ms bouzouki 9",
        "hand-limit-ms hammered dulcimer 90", "approaches plucked bass 0.2", "ring plucked bass 0.6", "octaves concertina 1",
        "consonants concertina on", "phrasing concertina off", "key D dorian", "up 2", "down a tone", "section refrain", "jump refrain", "loop 1 2 in refrain", "tag 2",
        "break 1", "count-in off", "round off", "chords refrain | Am | G |", "rhythm verse | 1/8 1/4 1/4 1/4 3/8 1/8", "ending G6", "master -3",
        "keep a", "hear b", "version slow", "recall slow", "part 1", "all louder", "open a.toml", "song 1", "view words", "words second voice",
        "type level", "save a.toml", "start refrain", "tap-words verse",
    ];

    private static readonly Dictionary<string, string> Examples = Lines.ToDictionary(line => line.Split(' ')[0], StringComparer.Ordinal);

    private static IEnumerable<string> Verbs => ChangeWords.All.Select(form => form.Verb).Concat(ScreenActions.Verbs).Distinct();

    public static TheoryData<string> AllVerbs => [.. Verbs];

    public static TheoryData<string> VerbsWithArguments => [.. Verbs.Where(Examples.ContainsKey)];

    public static TheoryData<string> VerbsForOneSection => [.. ChangeWords.All.Where(form => form.Usage.EndsWith(" here", StringComparison.Ordinal)).Select(form => form.Verb)];

    private static TestScreen Stopped()
    {
        var screen = new TestScreen(Song) { Waits = true };
        screen.Play(1);
        return screen;
    }

    private static string Answer(string typed)
    {
        var screen = Stopped();
        var before = screen.Conductor.State;
        screen.Type(typed);
        var state = screen.State();
        Assert.True(state.MessageWarns, $"{typed}: {state.Message}");
        Assert.Same(before, screen.Conductor.State);
        Assert.Equal(ScreenRequest.None, screen.Keys.Request);
        Assert.Null(screen.Saved);
        return state.Message;
    }

    private static void Suggests(string typed, string wrong, string? meant)
    {
        var answer = Answer(typed);
        Assert.Contains($"'{wrong}'", answer, StringComparison.Ordinal);
        if (meant is not null)
        {
            Assert.Contains($"did you mean {meant}?", answer, StringComparison.Ordinal);
        }
        else
        {
            Assert.DoesNotContain("did you mean", answer, StringComparison.Ordinal);
        }
    }

    // Every word has an example, or takes no arguments.
    [Fact]
    public void Examples_EveryWord_IsThere()
    {
        var alone = ChangeWords.All.Where(form => form.Usage == form.Verb).Select(form => form.Verb).Concat(Verbs.Where(ScreenActions.StandsAlone));
        Assert.Equal(Verbs.Order(), alone.Concat(Examples.Keys).Order());
    }

    [Theory]
    [MemberData(nameof(VerbsWithArguments))]
    public void Type_Example_IsAccepted(string verb)
    {
        // Without a set, a saved version, another side or another file.
        if (verb is "song" or "recall" or "hear" or "open" or "type")
        {
            return;
        }

        var screen = Stopped();
        screen.Type(Examples[verb]);
        Assert.False(screen.State().MessageWarns, screen.State().Message);
    }

    [Theory]
    [MemberData(nameof(AllVerbs))]
    public void Type_MisspeltVerb_IsSuggested(string verb) => Suggests(verb + verb[^1], verb + verb[^1], verb);

    // Once a bug: "with" was not near enough to anything.
    [Theory]
    [InlineData("with cello", "with", "without")]
    [InlineData("inst cello fiddle", "inst", "instrument")]
    [InlineData("metre 7/8", "metre", "meter")]
    public void Type_BeginningOfAVerb_IsSuggested(string typed, string wrong, string meant) => Suggests(typed, wrong, meant);

    [Theory]
    [MemberData(nameof(AllVerbs))]
    public void Type_AWordTooMany_IsNamed(string verb)
    {
        if (!FreeText.Contains(verb))
        {
            Assert.Contains("'qqx'", Answer($"{Examples.GetValueOrDefault(verb, verb)} qqx"), StringComparison.Ordinal);
        }
    }

    [Theory]
    [MemberData(nameof(VerbsForOneSection))]
    public void Type_MisspeltSectionOfAChange_IsSuggested(string verb)
    {
        Suggests($"{Examples[verb]} in refrian", "refrian", "refrain");
        Suggests($"{Examples[verb]} heree", "heree", "here");
        Suggests($"{Examples[verb]} in refrain now", "now", null);
        Assert.StartsWith("give a section after 'in'; sections: verse, refrain", Answer($"{Examples[verb]} in"), StringComparison.Ordinal);
        Assert.StartsWith("'in refrain' limits a change to a section; ", Answer($"{verb} in refrain"), StringComparison.Ordinal);
    }

    [Fact]
    public void Type_MisspeltPart_IsSuggestedWhateverFollows()
    {
        foreach (var form in ChangeWords.All.Where(form => form.Usage.Contains(" PART", StringComparison.Ordinal)))
        {
            var example = Examples[form.Verb];
            var part = new[] { "hammered dulcimer", "plucked bass", "bouzouki", "concertina", "cello" }.First(name => example.Contains(name, StringComparison.Ordinal));
            var wrong = part[..^1] + part[^1] + part[^1];
            Suggests(example.Replace(part, wrong, StringComparison.Ordinal), wrong, part);
            Suggests($"{form.Verb} {wrong}", wrong, part);
            Suggests(example.Replace(part, "trombone", StringComparison.Ordinal), "trombone", null);
        }
    }

    // A part is also meant by its role, or by a word of its name.
    [Theory]
    [InlineData("level bas -9", "bas", "bass")]
    [InlineData("level dulcimr by 2", "dulcimr", "dulcimer")]
    [InlineData("mute tne", "tne", "tune")]
    [InlineData("level pluckd bass -9", "pluckd bass", "plucked bass")]
    public void Type_MisspeltRoleOrWordOfAName_IsSuggested(string typed, string wrong, string meant) => Suggests(typed, wrong, meant);

    [Theory]
    [InlineData("section refrian", "refrian", "refrain")]
    [InlineData("section refrain now", "now", null)]
    [InlineData("jump vers", "vers", "verse")]
    [InlineData("loop vers", "vers", "verse")]
    [InlineData("loop 1 2 in vers", "vers", "verse")]
    [InlineData("loop 1 2 verse", "verse", null)]
    [InlineData("loop secton", "secton", "section")]
    [InlineData("loop 1 x", "x", null)]
    [InlineData("chords vers | Am | G |", "vers", "verse")]
    [InlineData("chords vers ending 1 | Am |", "vers", "verse")]
    [InlineData("chords verse endng 1 | Am |", "endng", "ending")]
    [InlineData("chords refrain | Am | H |", "H", null)]
    [InlineData("rhythm vers | 1/8", "vers", "verse")]
    [InlineData("rhythm verse pikcup 1/8 | 1/8", "pikcup", "pickup")]
    [InlineData("rhythm verse | 1/8 q", "q", null)]
    [InlineData("start refran", "refran", "refrain")]
    [InlineData("start hree", "hree", "here")]
    [InlineData("start here cont-in", "cont-in", "count-in")]
    [InlineData("start refrain no-cont-in", "no-cont-in", "no-count-in")]
    [InlineData("tap-words vers", "vers", "verse")]
    [InlineData("words secnd voice", "secnd voice", "second voice")]
    [InlineData("view wrods", "wrods", "words")]
    [InlineData("all loudr", "loudr", "louder")]
    [InlineData("part x", "part x", null)]
    [InlineData("save anywya", "anywya", "anyway")]
    public void Type_MisspeltNameOrWord_IsSuggested(string typed, string wrong, string? meant) => Suggests(typed, wrong, meant);

    [Theory]
    [InlineData("tempo barr = 60", "barr", "bar")]
    [InlineData("tempo eigth = 300", "eigth", "eighth")]
    [InlineData("tempo lerner", "lerner", "learner")]
    [InlineData("tempo bby 4", "bby", "by")]
    [InlineData("tempo fast", "fast", null)]
    [InlineData("ramp 140 ovr 8", "ovr", "over")]
    [InlineData("ramp 140 over x", "x", null)]
    [InlineData("ramp 140 over 8 seconds", "seconds", null)]
    [InlineData("meter 7/x", "7/x", null)]
    [InlineData("meter 7/8 nnone", "nnone", "none")]
    [InlineData("grouping nnone", "nnone", "none")]
    [InlineData("recast 5/8 by half-baar", "half-baar", "half-bar")]
    [InlineData("feel gruop", "gruop", "group")]
    [InlineData("feel widr", "widr", "wider")]
    [InlineData("level cello bby 2", "bby", "by")]
    [InlineData("level cello loud", "loud", null)]
    [InlineData("master bby 2", "bby", "by")]
    [InlineData("pan cello lft", "lft", "left")]
    [InlineData("mute cello of", "of", "off")]
    [InlineData("solo cello onn", "onn", "on")]
    [InlineData("without cello of", "of", "off")]
    [InlineData("role cello bas", "bas", "bass")]
    [InlineData("role cello conductor", "conductor", null)]
    [InlineData("instrument cello fidle", "fidle", "fiddle")]
    [InlineData("instrument cello qqqqq", "qqqqq", null)]
    [InlineData("add rol banjo", "rol", "roll")]
    [InlineData("add roll banjoo", "banjoo", "banjo")]
    [InlineData("count unts", "unts", "units")]
    [InlineData("crossing hammered dulcimer folow", "folow", "follow")]
    [InlineData("density hammered dulcimer haf", "haf", "half")]
    [InlineData("laid-back cello nne", "nne", "none")]
    [InlineData("register cello usul", "usul", "usual")]
    [InlineData("register cello C3 C5", "C3 C5", null)]
    [InlineData("rename cello too low one", "too", "to")]
    [InlineData("strokes bouzouki hevy", "hevy", "heavy")]
    [InlineData("damped bouzouki of", "of", "off")]
    [InlineData("voices cello two", "two", null)]
    [InlineData("share bouzouki al", "al", "all")]
    [InlineData("strum-ms bouzouki x", "x", null)]
    [InlineData("hand-limit-ms hammered dulcimer usul", "usul", "usual")]
    [InlineData("approaches plucked bass x", "x", null)]
    [InlineData("ring plucked bass usul", "usul", "usual")]
    [InlineData("octaves concertina x", "x", null)]
    [InlineData("consonants concertina onn", "onn", "on")]
    [InlineData("key E dorain", "dorain", "dorian")]
    [InlineData("key e dorian", "e dorian", "E dorian")]
    [InlineData("key H", "H", null)]
    [InlineData("up ton", "ton", "tone")]
    [InlineData("down a semitne", "a semitne", "a semitone")]
    [InlineData("tag x", "x", null)]
    [InlineData("break x", "x", null)]
    [InlineData("count-in of", "of", "off")]
    [InlineData("round onn", "onn", "on")]
    [InlineData("ending offf", "offf", "off")]
    [InlineData("keep c", "c", null)]
    [InlineData("hear oter", "oter", "other")]
    public void Type_MisspeltValue_IsSuggested(string typed, string wrong, string? meant) => Suggests(typed, wrong, meant);

    [Theory]
    [MemberData(nameof(VerbsWithArguments))]
    public void Type_NothingAfterTheVerb_SaysWhatIsMissing(string verb)
    {
        if (ChangeWords.All.FirstOrDefault(form => form.Verb == verb) is { StandsAlone: false } form && verb is not ("mute" or "solo"))
        {
            Assert.Equal($"incomplete; usage: {form.Usage}", Answer(verb));
        }
    }

    [Theory]
    [InlineData("tempo by", "give a step in beats per minute after 'by'")]
    [InlineData("tempo bar =", "give the number per minute after '=', such as bar = 60")]
    [InlineData("ramp 140", "give the tempo and the number of bars: ramp 140 over 8")]
    [InlineData("ramp 140 over", "give the tempo and the number of bars: ramp 140 over 8")]
    [InlineData("level cello", "give a level in dB; accepted: -60 to 6")]
    [InlineData("level cello by", "give a step in dB after 'by'")]
    [InlineData("pan cello", "give a pan position; accepted: -100 to 100")]
    [InlineData("role cello", "give a role; accepted: pulse, roll, bass, sustain and tune")]
    [InlineData("instrument cello", "give an instrument; for the sustain: ")]
    [InlineData("crossing hammered dulcimer", "give a way to cross the groups; accepted: follow, free or land")]
    [InlineData("density hammered dulcimer", "give a density; accepted: full, half or quarter")]
    [InlineData("laid-back cello", "give a way to lay back; accepted: ")]
    [InlineData("register cello", "give a register; write two pitches such as G3-E5, or usual")]
    [InlineData("rename cello", "give the new name: rename cello to second fiddle")]
    [InlineData("strokes bouzouki", "give strokes; accepted: alternate, heavy or down")]
    [InlineData("voices cello", "give a number of voices; accepted: 1 to 6")]
    [InlineData("share bouzouki", "give units to share; accepted: all, starts or between")]
    [InlineData("strum-ms bouzouki", "give a number of milliseconds; accepted: 0 to 14")]
    [InlineData("hand-limit-ms hammered dulcimer", "give a number of milliseconds; accepted: 40 to 400")]
    [InlineData("approaches plucked bass", "give a share of the chord changes; accepted: 0 to 0.5")]
    [InlineData("ring plucked bass", "give a share of the time to the next note; accepted: 0.2 to 1")]
    [InlineData("octaves concertina", "give a number of octaves; accepted: -3 to 3")]
    [InlineData("loop 5", "give the first and the last bar to loop: loop 5 5")]
    [InlineData("loop 1 2 in", "give a section after 'in'; sections: verse, refrain")]
    [InlineData("chords verse", "give a section and its chords: ")]
    [InlineData("chords verse ending 1", "give the ending and its chords: ")]
    [InlineData("rhythm verse", "give a section and the lengths of its notes: ")]
    [InlineData("master by", "give a step in dB after 'by'")]
    [InlineData("part", "'part' does not select a part; write part with a number from 1")]
    [InlineData("all", "incomplete; usage: all louder | softer")]
    [InlineData("open", "incomplete; usage: open FILE")]
    [InlineData("song", "'song' needs a number or a title")]
    [InlineData("words", "incomplete; usage: words LINE; lines with words: tune, second voice")]
    public void Type_ValueMissing_SaysWhichOne(string typed, string says) => Assert.StartsWith(says, Answer(typed), StringComparison.Ordinal);

    [Theory]
    [InlineData("level cello -3 4", "'4'")]
    [InlineData("tempo 120 130", "'130'")]
    [InlineData("up 2 3", "'3'")]
    [InlineData("meter 7/8 2+2+3 4", "'4'")]
    [InlineData("pan cello 10 20", "'20'")]
    public void Type_ANumberTooMany_IsNamed(string typed, string named) => Assert.Contains($"unexpected {named} after ", Answer(typed), StringComparison.Ordinal);

    [Fact]
    public void Type_MisspeltVersion_IsSuggested()
    {
        var screen = Stopped();
        screen.Type("version slow one");
        screen.Type("recall slow on");
        Assert.Equal("no saved version called 'slow on'; did you mean slow one? saved versions: slow one", screen.State().Message);
    }
}
