using GrooveLab.Audio.Conducting;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Music.Performance;

namespace GrooveLab.Screen;

/// <summary>The performance that the screen shows and changes.</summary>
internal interface IScreenPerformance
{
    /// <summary>Takes the changes and holds the state.</summary>
    Conductor Conductor { get; }

    /// <summary>The place that is heard now.</summary>
    Playhead Heard { get; }

    /// <summary>The engine's reports since the last call.</summary>
    IReadOnlyList<EngineReport> News();

    /// <summary>The problems of the music; the same instance until something changes.</summary>
    Health Health { get; }

    /// <summary>Writes the chart; null for the file it came from.</summary>
    /// <returns>What was done, or what went wrong.</returns>
    ChangeAnswer Save(string? path);

    /// <summary>Writes the chart over a file that changed outside, or exists, of which the last save told.</summary>
    ChangeAnswer SaveAnyway();

    /// <summary>Whether something is not saved.</summary>
    bool IsUnsaved { get; }

    /// <summary>Removes the unsaved changes of an earlier time that are offered.</summary>
    ChangeAnswer Discard();
}
