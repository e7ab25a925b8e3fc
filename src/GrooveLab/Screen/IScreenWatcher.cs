using GrooveLab.Audio.Playback;

namespace GrooveLab.Screen;

/// <summary>Looks at the screen while it runs, on the screen's own thread: how programs that measure and check it see into it.</summary>
internal interface IScreenWatcher
{
    /// <summary>Called every few milliseconds. What it throws ends the screen as any failure in it would.</summary>
    /// <param name="pictures">How many pictures were drawn.</param>
    /// <param name="health">The health of what plays; null before the band plays.</param>
    /// <returns>True to leave.</returns>
    bool Look(long pictures, Health? health);
}
