using GrooveLab.Audio.Playback;

namespace GrooveLab.Screen;

/// <summary>Observes the running screen on its own thread, for the programs that measure and check it.</summary>
internal interface IScreenWatcher
{
    /// <summary>Called every few milliseconds. An exception ends the screen like any other failure in it.</summary>
    /// <param name="pictures">The number of pictures drawn so far.</param>
    /// <param name="health">The health of the music; null before the band plays.</param>
    /// <returns>True to leave the screen.</returns>
    bool Look(long pictures, Health? health);
}
