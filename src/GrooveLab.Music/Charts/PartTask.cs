namespace GrooveLab.Music.Charts;

/// <summary>What the arrangement asks of a part in a bar. Each role has its own way of doing it; the downbeat and the part's pattern
/// stay.</summary>
public enum PartTask
{
    /// <summary>Plays as the role does by itself.</summary>
    Plays,

    /// <summary>Is silent.</summary>
    Rests,

    /// <summary>Plays less: a damped pulse, a roll of half as many notes, a bass of one or two notes a bar, one held voice.</summary>
    Thin,

    /// <summary>Plays only between the units (a roll).</summary>
    OffBeats,

    /// <summary>Plays in its upper register, about an octave above its usual one where its range and the tune leave room.</summary>
    High,

    /// <summary>Plays all it has: an open pulse on every string, a roll with all its accents, a bass that leads, all held voices.</summary>
    Full,

    /// <summary>Plays a figure of its own that ends a stretch of bars.</summary>
    Fill,

    /// <summary>Leads into the next section: a line of steps, a chord of approach.</summary>
    Pickup,

    /// <summary>Strikes the downbeat and rests.</summary>
    Break,
}

/// <summary>Words for the tasks of parts.</summary>
public static class PartTasks
{
    private static readonly string[] Words = ["plays", "rests", "thin", "off-beats", "high", "full", "fill", "pickup", "break"];

    /// <summary>The word for a task, as in charts and in reports.</summary>
    public static string Name(this PartTask task) => Words[(int)task];

    /// <summary>All words, in the order of the tasks.</summary>
    public static IReadOnlyList<string> All => Words;

    /// <summary>The task of that word; null for none.</summary>
    public static PartTask? Parse(string word)
    {
        var at = Array.IndexOf(Words, word);
        return at < 0 ? null : (PartTask)at;
    }
}
