using GrooveLab.Commands;
using GrooveLab.Inputs;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Ensemble.Checks;
using Xunit;

namespace GrooveLab.Tests;

/// <summary>The check of the accents holds for a band as it plays, and fails for the same band with other accents.</summary>
public sealed class SoundChecksTests
{
    // Felt units, whose accents are the smallest; a fast meter, in which strokes ring over others; felt groups.
    public static TheoryData<string> Names => ["four-four-short-bar", "crooked-tune", "thirteen-sixteen", "six-eight-three-four"];

    [Theory]
    [MemberData(nameof(Names))]
    public void Accents_AsPlayed_FollowThePlan(string name)
    {
        var check = Follow(name, played: null);
        Assert.True(check.Holds, $"{check.Value}: {string.Join("; ", check.Places)}");
    }

    [Theory]
    [MemberData(nameof(Names))]
    public void Accents_Shuffled_DoNotFollowThePlan(string name)
    {
        var check = Follow(name, Shuffled);
        Assert.InRange(check.Value!.Value, -1, 0.5);
        Assert.False(check.Holds);
    }

    [Theory]
    [MemberData(nameof(Names))]
    public void Accents_AllStrokesEquallyHard_DoNotFollowThePlan(string name)
    {
        var check = Follow(name, bar => bar with { Notes = [.. bar.Notes.Select(note => note with { Velocity = 64 })] });
        Assert.False(check.Holds, $"{check.Value}");
    }

    private static CheckResult Follow(string name, Func<Bar, Bar>? played)
    {
        var chart = ChartFiles.Read(Running.Presets.Single(path => Path.GetFileNameWithoutExtension(path) == name));
        var band = new BarComposer(chart, new ComposerOptions { CountIn = true });
        return new SoundChecks(band, Banks.OpenBuiltIn(), TestContext.Current.CancellationToken).Accents(played)
            .Single(check => check.Name == "accents follow the plan");
    }

    // Each stroke of a role is as hard as another one of the bar, by chance.
    private static Bar Shuffled(Bar bar)
    {
        var random = new Random(bar.Index);
        return bar with { Notes = [.. bar.Notes.GroupBy(note => note.Role).SelectMany(role => Mixed([.. role]))] };

        IEnumerable<NoteEvent> Mixed(NoteEvent[] notes)
        {
            var strokes = notes.GroupBy(note => note.Onset).ToArray();
            var hardness = strokes.Select(stroke => stroke.First().Velocity).ToArray();
            random.Shuffle(hardness);
            return strokes.Zip(hardness).SelectMany(pair => pair.First.Select(note => note with { Velocity = pair.Second }));
        }
    }
}
