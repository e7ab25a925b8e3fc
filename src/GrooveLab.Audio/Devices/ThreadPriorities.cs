using System.Runtime.InteropServices;

namespace GrooveLab.Audio.Devices;

/// <summary>
/// Real-time priority for the calling thread on Linux. <see cref="Thread.Priority"/> has no effect there.
/// </summary>
internal static partial class ThreadPriorities
{
    // Below sound servers, which commonly run at 5 to 9 and up: they feed the device that we feed them for.
    private const int Priority = 5;

    // sched.h of Linux. Round robin, so that two such threads of one priority still share a core.
    private const int RoundRobin = 2;

    /// <summary>Asks for round-robin scheduling; false where the system or the user's limits do not allow it.</summary>
    public static unsafe bool TryRaiseCurrent()
    {
        if (!OperatingSystem.IsLinux())
        {
            return false;
        }

        try
        {
            // sched_param is one int with glibc and an int with reserved room behind it with musl.
            int* parameters = stackalloc int[16];
            new Span<int>(parameters, 16).Clear();
            parameters[0] = Priority;
            return SetSchedulingParameters(Self(), RoundRobin, parameters) == 0;
        }
        catch (EntryPointNotFoundException)
        {
            return false;
        }
        catch (DllNotFoundException)
        {
            return false;
        }
    }

    [LibraryImport("libc", EntryPoint = "pthread_self")]
    private static partial nint Self();

    [LibraryImport("libc", EntryPoint = "pthread_setschedparam")]
    private static unsafe partial int SetSchedulingParameters(nint thread, int policy, int* parameters);
}
